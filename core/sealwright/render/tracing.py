"""Ray casting against a soup of triangles (embreex)."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import BackendUnavailable, Where
from ..mesh import Bools
from .scene import Cut, Scene
from .soup import Soup

Singles = NDArray[np.float32]
Numbers = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Hits:
    """First hits of rays.

    Attributes
    ----------
    distance : (k,) along the ray, mm.
    point, normal : (k, 3) mm and unit, the normal towards the eye.
    item : (k,) number of the mesh, -1 for none.
    value : (k,) number for the colour map, NaN for none.
    kind : (k,) 0 outside of a surface, 1 its back, 2 the filled face of a cut.
    """

    distance: Singles
    point: Singles
    normal: Singles
    item: Numbers
    value: Singles
    kind: Numbers

    def only(self, rows: NDArray[np.int64]) -> Hits:
        """Some of the rays."""
        return Hits(*(getattr(self, field.name).T[..., rows].T for field in fields(self)))


class Tracer:
    """A soup in a search tree.

    Parameters
    ----------
    soup : the triangles.
    scene : for the cut plane and which meshes are solid or see-through.
    """

    def __init__(self, soup: Soup, scene: Scene) -> None:
        self.scene, self._item = scene, soup.item
        opaque = np.array([s.opacity >= 1.0 for s in scene.shown])
        corners = soup.corners.astype(np.float32)
        self._all = _tree(corners)
        rows = opaque[soup.item]
        self._opaque = self._all if rows.all() else _tree(corners[rows]) if rows.any() else None
        self.low_mm, self.high_mm = (end(corners.reshape(-1, 3), axis=0) for end in (np.min, np.max))
        self.size_mm = float(np.linalg.norm(self.high_mm - self.low_mm))
        # What is looked up for each ray lies as rows of single numbers, one row for x, y and z.
        self._normals = [np.ascontiguousarray(soup.normals[:, k].T, np.float32) for k in range(3)]
        self._values = soup.values.T.astype(np.float32) if np.isfinite(soup.values).any() else None
        (ax, ay, az), (bx, by, bz) = ((corners[:, k] - corners[:, 0]).T for k in (1, 2))
        self._flat = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])
        self._cut = [
            (number, _tree(corners[own]), self._flat[:, own])
            for number, shown in enumerate(scene.shown)
            if scene.cut is not None and shown.solid and shown.cut and (own := soup.item == number).any()
        ]

    def first_hits(self, origin: NDArray[np.floating], direction: NDArray[np.floating]) -> Hits:
        """First hits of rays (k, 3)."""
        o, d = np.ascontiguousarray(origin, np.float32), np.ascontiguousarray(direction, np.float32)
        raw = self._all.run(o, d, output=1)
        face, distance = raw["primID"], raw["tfar"].copy()
        hit = np.flatnonzero(face >= 0)
        normal, point = np.zeros((2, 3, len(o)), np.float32)
        item, kind = np.full(len(o), -1, np.int32), np.zeros(len(o), np.int32)
        value = np.full(len(o), np.nan, np.float32)
        f, u, v = face[hit], raw["u"][hit], raw["v"][hit]
        weights = (1.0 - u - v, u, v)
        item[hit] = self._item[f]
        if self._values is not None:
            value[hit] = sum(w * row[f] for w, row in zip(weights, self._values, strict=True))
        # The library's own normal turns either way; ours comes from the order of the corners.
        back = sum(self._flat[k][f] * d[hit, k] for k in range(3)) > 0
        kind[hit] = back
        for k in range(3):
            point[k, hit] = o[hit, k] + distance[hit] * d[hit, k]
            smooth = sum(w * rows[k][f] for w, rows in zip(weights, self._normals, strict=True))
            normal[k, hit] = np.where(back, -smooth, smooth)
        found = Hits(distance, point.T, normal.T, item, value, kind)
        if self.scene.cut is not None:
            self._fill_cut(self.scene.cut, o, d, found)
        length = np.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
        normal /= np.where(length > 0, length, 1.0)
        return found

    def _fill_cut(self, cut: Cut, o: Singles, d: Singles, found: Hits) -> None:
        """Rays that enter a solid through the cut plane meet its filled face there (``found`` is changed).

        Such a ray meets the back of that solid first: the plane took the front away. Of solids that overlap
        the one that is shown first has the face.
        """
        plane = np.array(cut.normal, dtype=np.float32) / np.float32(np.linalg.norm(cut.normal))
        height = (o - np.array(cut.point, dtype=np.float32)) @ plane
        sinking = -(d @ plane)
        far = np.where(
            (height > 0) & (sinking > 1e-6), height / np.maximum(sinking, np.float32(1e-6)), np.inf
        )
        for number, tree, flat in self._cut:
            rows = np.flatnonzero((far < found.distance) & (found.kind != 2))
            face = tree.run(o[rows], d[rows], output=1)["primID"]
            back = (face >= 0) & (sum(flat[k][face] * d[rows, k] for k in range(3)) > 0)
            rows = rows[back]
            found.distance[rows] = far[rows]
            found.point[rows] = o[rows] + far[rows, None] * d[rows]
            found.normal[rows] = plane
            found.item[rows], found.value[rows], found.kind[rows] = number, np.nan, 2

    def blocked(self, origin: Singles, direction: Singles, reach_mm: float) -> Bools:
        """Whether opaque triangles lie within reach along rays (k, 3)."""
        if self._opaque is None:
            return np.zeros(len(origin), dtype=np.bool_)
        reach = np.full(len(origin), reach_mm, dtype=np.float32)
        found: Bools = self._opaque.run(origin, direction, dists=reach, query="OCCLUDED") >= 0
        return found


def _tree(corners: Singles) -> Any:
    try:
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene
    except ImportError as error:
        raise BackendUnavailable(
            f"The ray caster embreex cannot be loaded ({error}).",
            Where("installation"),
            "Install it with 'pip install embreex', or make the report without pictures.",
        ) from error
    scene = EmbreeScene()
    count = 3 * len(corners)
    faces = np.arange(count, dtype=np.int32).reshape(-1, 3)
    TriangleMesh(scene, corners.reshape(-1, 3), faces)
    return scene

"""Ray casting against a soup of triangles (embreex)."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import BackendUnavailable, Where
from ..mesh import Bools, Floats
from .scene import Cut, Scene
from .soup import Soup

Singles = NDArray[np.float32]
Numbers = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Hits:
    """First hits of rays.

    Attributes
    ----------
    face : (k,) triangle, -1 for none.
    distance : (k,) along the ray, mm.
    point, normal : (k, 3) mm and unit, the normal towards the eye.
    item : (k,) number of the mesh, -1 for none.
    value : (k,) number for the colour map, NaN for none.
    kind : (k,) 0 outside of a surface, 1 its back, 2 the filled face of a cut.
    """

    face: Numbers
    distance: Singles
    point: Singles
    normal: Singles
    item: Numbers
    value: Singles
    kind: Numbers

    def only(self, rows: NDArray[np.int64]) -> Hits:
        """Some of the rays."""
        return Hits(*(getattr(self, field.name)[rows] for field in fields(self)))


class Tracer:
    """A soup in a search tree.

    Parameters
    ----------
    soup : the triangles.
    scene : for the cut plane and which meshes are solid or see-through.
    """

    def __init__(self, soup: Soup, scene: Scene) -> None:
        self.soup, self.scene = soup, scene
        self.solid = np.array([s.solid and s.cut for s in scene.shown])
        opaque = np.array([s.opacity >= 1.0 for s in scene.shown])
        self._all = _tree(soup.corners)
        rows = opaque[soup.item]
        self._opaque = self._all if rows.all() else _tree(soup.corners[rows]) if rows.any() else None
        low, high = soup.corners.reshape(-1, 3).min(axis=0), soup.corners.reshape(-1, 3).max(axis=0)
        self.size_mm = float(np.linalg.norm(high - low))

    def first_hits(self, origin: Floats, direction: Floats) -> Hits:
        """First hits of rays (k, 3)."""
        o, d = np.ascontiguousarray(origin, np.float32), np.ascontiguousarray(direction, np.float32)
        raw = self._all.run(o, d, output=1)
        face = raw["primID"]
        hit = np.flatnonzero(face >= 0)
        normal, point = np.zeros_like(o), np.zeros_like(o)
        item, kind = np.full(len(o), -1, np.int32), np.zeros(len(o), np.int32)
        value, distance = np.full(len(o), np.nan, np.float32), raw["tfar"].copy()
        f, u, v = face[hit], raw["u"][hit, None], raw["v"][hit, None]
        weights = np.concatenate([1.0 - u - v, u, v], axis=1)
        item[hit] = self.soup.item[f]
        value[hit] = np.einsum("ij,ij->i", self.soup.values[f], weights)
        point[hit] = o[hit] + distance[hit, None] * d[hit]
        # The library's own normal turns either way; ours comes from the order of the corners.
        c = self.soup.corners[f]
        flat = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
        back = np.einsum("ij,ij->i", flat, d[hit]) > 0
        kind[hit] = back
        smooth = np.einsum("ijk,ij->ik", self.soup.normals[f], weights)
        normal[hit] = np.where(back[:, None], -smooth, smooth)
        found = Hits(face, distance, point, normal, item, value, kind)
        if self.scene.cut is not None:
            self._fill_cut(self.scene.cut, o, d, hit, found)
        length = np.linalg.norm(normal, axis=1, keepdims=True)
        normal /= np.where(length > 0, length, 1.0)
        return found

    def _fill_cut(self, cut: Cut, o: Singles, d: Singles, hit: NDArray[np.int64], found: Hits) -> None:
        """Rays that enter a solid through the cut plane meet its filled face there (``found`` is changed).

        Such a ray meets the back of the solid first: the plane took the front away.
        """
        plane = np.array(cut.normal, dtype=np.float32) / np.float32(np.linalg.norm(cut.normal))
        height = (o[hit] - np.array(cut.point, dtype=np.float32)) @ plane
        sinking = -(d[hit] @ plane)
        enters = self.solid[found.item[hit]] & (found.kind[hit] == 1) & (height > 0) & (sinking > 1e-6)
        rows = hit[enters]
        found.distance[rows] = height[enters] / sinking[enters]
        found.point[rows] = o[rows] + found.distance[rows, None] * d[rows]
        found.normal[rows] = plane
        found.kind[rows] = 2

    def blocked(self, origin: Singles, direction: Singles, reach_mm: float) -> Bools:
        """Whether opaque triangles lie within reach along rays (k, 3)."""
        if self._opaque is None:
            return np.zeros(len(origin), dtype=np.bool_)
        reach = np.full(len(origin), reach_mm, dtype=np.float32)
        found: Bools = self._opaque.run(origin, direction, dists=reach, query="OCCLUDED") >= 0
        return found


def _tree(corners: Floats) -> Any:
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
    TriangleMesh(scene, np.ascontiguousarray(corners.reshape(-1, 3), dtype=np.float32), faces)
    return scene

"""The triangles of a scene as loose corners, cut by the cut plane, ready for ray casting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats, Ints
from .scene import Cut, Scene, Shown, line_tube

_HAIR = 3e-4  # of its size: how far an open surface is drawn below its place


@dataclass(frozen=True, eq=False)
class Soup:
    """Loose triangles with what shading needs.

    Attributes
    ----------
    corners, normals : (m, 3, 3) positions (mm) and unit normals of the corners.
    values : (m, 3) numbers for the colour map, NaN for none.
    item : (m,) number of the mesh in the scene.
    """

    corners: Floats
    normals: Floats
    values: Floats
    item: Ints

    def kept(self, rows: NDArray[np.intp]) -> Soup:
        """Some of the triangles."""
        return Soup(self.corners[rows], self.normals[rows], self.values[rows], self.item[rows])


def soup_of(scene: Scene) -> Soup:
    """All meshes of a scene as one soup; cut edges of open surfaces get a thin line."""
    parts: list[Soup] = []
    for number, shown in enumerate(scene.shown):
        part = _loose(shown, number)
        if scene.cut is not None and shown.cut:
            part, edges = _cut(part, scene.cut)
            if not shown.solid and len(edges):
                parts.append(_cut_line(edges, shown, number))
        parts.append(part)
    stacked = (
        np.concatenate([getattr(p, name) for p in parts]) for name in ("corners", "normals", "values", "item")
    )
    return Soup(*stacked)


def _loose(shown: Shown, number: int) -> Soup:
    mesh = shown.mesh
    values = np.full(len(mesh.vertices), np.nan) if shown.values is None else np.asarray(shown.values, float)
    corners = mesh.corners
    if not shown.solid:
        corners = corners - _HAIR * float(np.linalg.norm(mesh.extents)) * mesh.vertex_normals[mesh.faces]
    return Soup(
        corners,
        shown.corner_normals,
        values if values.ndim == 2 else values[mesh.faces],
        np.full(len(mesh.faces), number, dtype=np.int32),
    )


def _cut(soup: Soup, cut: Cut) -> tuple[Soup, Floats]:
    """What is left of a soup, and the edges (k, 2, 3) along which it was cut."""
    normal = np.array(cut.normal, dtype=np.float64)
    height = (soup.corners - np.array(cut.point)) @ (normal / np.linalg.norm(normal))
    below = height <= 0.0
    count = below.sum(axis=1)
    parts, edges = [soup.kept(np.flatnonzero(count == 3))], []
    for wanted in (1, 2):
        rows = np.flatnonzero(count == wanted)
        if not len(rows):
            continue
        # Turn each triangle so that the corner that is alone on its side comes first.
        alone = np.where(below[rows] == (wanted == 1), 0, 1).argmin(axis=1)
        turn = (alone[:, None] + np.arange(3)) % 3
        one = soup.kept(rows)
        c, n = (np.take_along_axis(x, turn[..., None], axis=1) for x in (one.corners, one.normals))
        v, h = (np.take_along_axis(x, turn, axis=1) for x in (one.values, height[rows]))
        share = h[:, :1] / (h[:, :1] - h[:, 1:])
        on_c, on_n = (x[:, :1] + share[..., None] * (x[:, 1:] - x[:, :1]) for x in (c, n))
        on_v = v[:, :1] + share * (v[:, 1:] - v[:, :1])
        edges.append(on_c)
        if wanted == 1:
            kept = [[(c, 0), (on_c, 0), (on_c, 1)]]
        else:
            kept = [[(on_c, 0), (c, 1), (c, 2)], [(on_c, 0), (c, 2), (on_c, 1)]]
        of = {id(c): (c, n, v), id(on_c): (on_c, on_n, on_v)}
        for triangle in kept:
            layers = [
                np.stack([of[id(source)][k][:, col] for source, col in triangle], axis=1) for k in range(3)
            ]
            parts.append(Soup(layers[0], layers[1], layers[2], one.item))
    joined = (
        np.concatenate([getattr(p, name) for p in parts]) for name in ("corners", "normals", "values", "item")
    )
    return Soup(*joined), np.concatenate(edges) if edges else np.zeros((0, 2, 3))


def _cut_line(edges: Floats, shown: Shown, number: int) -> Soup:
    """Short round rods along the cut edges of an open surface."""
    radius = 0.0025 * float(np.linalg.norm(shown.mesh.extents))
    length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    long_enough = edges[length > 1e-6]
    rod = line_tube(np.array([[0.0, 0, 0], [0, 0, 1]]), 1.0, closed=False)
    along = long_enough[:, 1] - long_enough[:, 0]
    unit = along / np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(unit, np.eye(3)[np.abs(unit).argmin(axis=1)])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    frame = np.stack([radius * across, radius * np.cross(unit, across), along], axis=1)
    corners = np.einsum("fci,kij->kfcj", rod.corners, frame) + long_enough[:, None, None, 0]
    flat = np.einsum("fci,kij->kfcj", rod.corners * [1.0, 1.0, 0.0], frame) / radius
    count = len(long_enough) * len(rod.faces)
    return Soup(
        corners.reshape(-1, 3, 3),
        flat.reshape(-1, 3, 3),
        np.full((count, 3), np.nan),
        np.full(count, number, dtype=np.int32),
    )

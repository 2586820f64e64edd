"""What a picture shows: meshes with colours or values, a cut, labels, a legend."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ..mesh import Floats, TriMesh, trimesh_of
from .normals import corner_normals

Colour = tuple[float, float, float]

# Our palette, sRGB 0..1: told apart by lightness as well as by hue.
SKIN: Colour = (0.86, 0.69, 0.59)
RING: Colour = (0.22, 0.23, 0.27)
LINE: Colour = (0.80, 0.16, 0.24)
PLATE: Colour = (0.72, 0.74, 0.76)


@dataclass(frozen=True, eq=False)
class Shown:
    """One mesh in a picture.

    Attributes
    ----------
    mesh : closed or open, mm.
    colour : sRGB 0..1.
    values : (n,) one number per vertex, or (m, 3) one per corner of each triangle, shown by the colour map of
        the legend; NaN shows ``colour``.
    solid : closed by nature: a cut through it is filled. An open surface shows its cut as a line and is drawn
        a hair (3e-4 of its size) below its place, so that a part lying on skin does not flicker with it.
    crease_deg : edges sharper than this stay sharp.
    opacity : 1 for opaque; less lets what lies behind through.
    cut : whether the cut of the scene applies to it.
    """

    mesh: TriMesh
    colour: Colour
    values: Floats | None = None
    solid: bool = True
    crease_deg: float = 30.0
    opacity: float = 1.0
    cut: bool = True

    @cached_property
    def corner_normals(self) -> Floats:
        """See `normals.corner_normals`; worked out once for all scenes that show the mesh."""
        return corner_normals(self.mesh, self.crease_deg)


@dataclass(frozen=True)
class Cut:
    """A cut plane: what lies on the side ``normal`` points to is taken away.

    Attributes
    ----------
    point, normal : (3,) mm and direction.
    """

    point: tuple[float, float, float]
    normal: tuple[float, float, float]


@dataclass(frozen=True)
class Legend:
    """Scale of the colour map.

    Attributes
    ----------
    title, unit : words beside the bar; unit "" for a pure number.
    low, high : ends of the scale.
    limits : named values marked on the bar.
    colours : "viridis", "cividis" or "ember".
    """

    title: str
    unit: str
    low: float
    high: float
    limits: tuple[tuple[str, float], ...] = ()
    colours: str = "viridis"


@dataclass(frozen=True)
class Label:
    """Words with a line to a point (3,) mm."""

    point: tuple[float, float, float]
    text: str


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything in one picture.

    Attributes
    ----------
    shown : the meshes.
    cut : optional cut plane.
    legend : needed when any mesh has values.
    labels : words with leader lines.
    title : words at the upper left.
    scale_bar : draw a bar of known length; true across a parallel view, at the target in a perspective one.
    background : upper and lower colour, sRGB 0..1.
    """

    shown: tuple[Shown, ...]
    cut: Cut | None = None
    legend: Legend | None = None
    labels: tuple[Label, ...] = ()
    title: str = ""
    scale_bar: bool = True
    background: tuple[Colour, Colour] = field(default=((0.985, 0.988, 0.992), (0.86, 0.88, 0.90)))

    @property
    def points(self) -> Floats:
        """All vertices (k, 3), for framing, thinned to about 20,000."""
        rows = [s.mesh.vertices[:: max(len(s.mesh.vertices) // 20_000, 1)] for s in self.shown]
        return np.vstack(rows)


def line_tube(points: Floats, radius_mm: float, closed: bool = True, sides: int = 8) -> TriMesh:
    """A round line along points (k, 3), for a seal line or an axis in a picture; ends are open."""
    p = np.asarray(points, dtype=np.float64)
    ahead, behind = np.roll(p, -1, axis=0), np.roll(p, 1, axis=0)
    if not closed:
        ahead[-1], behind[0] = p[-1], p[0]
    along = ahead - behind
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    helper = np.eye(3)[np.abs(along).argmin(axis=1)]
    across = np.cross(along, helper)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    third = np.cross(along, across)
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False) + _untwisted(across, third, closed)[:, None]
    c, s = np.cos(angle)[..., None], np.sin(angle)[..., None]
    rings = p[:, None] + radius_mm * (c * across[:, None] + s * third[:, None])
    return rings_mesh(rings, "line", closed)


def rings_mesh(rings: Floats, name: str, closed: bool = True) -> TriMesh:
    """Closed rings (n, k, 3) in a row, joined; the last to the first where they are closed."""
    length, sides = rings.shape[:2]
    i, j = np.meshgrid(np.arange(length if closed else length - 1), np.arange(sides), indexing="ij")
    a, b = i * sides + j, i * sides + (j + 1) % sides
    c, d = (i + 1) % length * sides + j, (i + 1) % length * sides + (j + 1) % sides
    faces = np.concatenate([np.stack([a, b, d], axis=-1), np.stack([a, d, c], axis=-1)]).reshape(-1, 3)
    return trimesh_of(rings.reshape(-1, 3), faces, name)


def _untwisted(across: Floats, third: Floats, closed: bool) -> Floats:
    """Angle (k,) of the first point of every ring, so that it lies nearest to the one of the ring before."""
    turn = np.zeros(len(across))
    first = across[0]
    for k in range(1, len(across)):
        turn[k] = np.arctan2(first @ third[k], first @ across[k])
        first = np.cos(turn[k]) * across[k] + np.sin(turn[k]) * third[k]
    if closed:  # what is left over where the ends meet is shared out along the line
        left = float(np.arctan2(first @ third[0], first @ across[0]))
        turn -= left * np.arange(len(turn)) / len(turn)
    return turn


def ball(point: Floats, radius_mm: float) -> TriMesh:
    """A small ball to mark a point (3,)."""
    polar, turns = np.meshgrid(
        np.linspace(0.0, np.pi, 13), np.linspace(0.0, 2.0 * np.pi, 25)[:-1], indexing="ij"
    )
    unit = np.stack([np.sin(polar) * np.cos(turns), np.sin(polar) * np.sin(turns), np.cos(polar)], axis=-1)
    i, j = np.meshgrid(np.arange(12), np.arange(24), indexing="ij")
    a, b, c, d = i * 24 + j, i * 24 + (j + 1) % 24, (i + 1) * 24 + j, (i + 1) * 24 + (j + 1) % 24
    faces = np.concatenate([np.stack([a, c, d], axis=-1), np.stack([a, d, b], axis=-1)]).reshape(-1, 3)
    return trimesh_of(np.asarray(point, dtype=np.float64) + radius_mm * unit.reshape(-1, 3), faces, "mark")

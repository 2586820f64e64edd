"""The best way up for printing: support-free first, standing firmly, least overhang, low height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import Solid
from .printer import PrinterSettings
from .slices import on_bed, slices_of
from .supports import unsupported_regions

_LOOK_CLOSER = 5  # directions whose layers are examined
_APART_DEG = 12.0  # closer directions are taken for the same
_STANDS_MM2 = 25.0  # with less on the bed a print falls over; a part without flat faces has no choice
_COARSE_LAYERS = 70
_COARSE_MM = 0.1  # the search sees the part simplified by this much


@dataclass(frozen=True, eq=False)
class Orientation:
    """One way up.

    Attributes
    ----------
    up : (3,) unit direction of the part that points up while printing.
    matrix : (4, 4) turning that brings ``up`` to +Z.
    overhang_mm2 : faces past the overhang limit, not on the bed.
    height_mm : height of the print.
    bed_mm2 : face area lying on the bed.
    islands, bridges, ledges : regions that need support, by kind, found on coarse layers; -1: not looked.
    """

    up: Floats
    matrix: Floats
    overhang_mm2: float
    height_mm: float
    bed_mm2: float
    islands: int = -1
    bridges: int = -1
    ledges: int = -1

    @property
    def support_free(self) -> bool:
        """Whether nothing was found that needs support."""
        return self.islands == self.bridges == self.ledges == 0


def best_orientations(
    solid: Solid, printer: PrinterSettings, preferred: Sequence[Floats] = ()
) -> list[Orientation]:
    """Ways up, best first; those whose layers were examined come before the others.

    Directions spread evenly over the sphere, the flat faces of the convex hull and the preferred ones are
    rated by face normals; the best few, and all preferred ones, are then sliced coarsely.

    Parameters
    ----------
    solid : the part.
    preferred : directions (3,) to look at in any case, such as the axis of a printed thread.
    """
    wanted = [np.asarray(p, dtype=np.float64) / np.linalg.norm(p) for p in preferred]
    light = Solid(solid.role, solid.native.simplify(_COARSE_MM))
    mesh = light.mesh
    ups = np.concatenate([_spread(printer.candidates), _hull_faces(light), *[w[None] for w in wanted]])
    rated = _rated(mesh, ups, printer.overhang_deg)
    total = mesh.area

    def rank(o: Orientation) -> tuple[bool, float, float]:
        """Steady first, then little overhang, then low."""
        return (o.bed_mm2 < _STANDS_MM2, round(o.overhang_mm2 / total, 2), o.height_mm)

    order = sorted(rated, key=rank)
    closer = _different(order, _LOOK_CLOSER) + [rated[len(ups) - len(wanted) + k] for k in range(len(wanted))]
    looked = [_examined(light, o, printer) for o in closer]
    looked.sort(key=lambda o: (not o.support_free, *rank(o)))
    return looked + [o for o in order if all(o is not c for c in closer)]


def turning_up(up: Floats) -> Floats:
    """The shortest turning (4, 4) that brings a direction (3,) to +Z."""
    u = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    matrix = np.eye(4)
    if u[2] < -1.0 + 1e-12:
        matrix[:3, :3] = np.diag([1.0, -1.0, -1.0])
        return matrix
    v = np.array([[0.0, 0.0, -u[0]], [0.0, 0.0, -u[1]], [u[0], u[1], 0.0]])
    matrix[:3, :3] = np.eye(3) + v + v @ v / (1.0 + u[2])  # Rodrigues' formula for the shortest turning
    return matrix


def _spread(count: int) -> Floats:
    """Directions (count, 3) spread over the sphere along a golden spiral, the poles included."""
    k = np.arange(count)
    z = 1.0 - 2.0 * k / (count - 1)
    turn = k * np.pi * (3.0 - np.sqrt(5.0))
    r = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def _hull_faces(solid: Solid) -> Floats:
    """Up directions (k, 3) that put a flat face of the convex hull on the bed, largest faces first."""
    hull = Solid(solid.role, solid.native.hull()).mesh
    order = np.argsort(-hull.face_areas, kind="stable")
    normals, areas = hull.face_normals[order], hull.face_areas[order]
    groups: list[tuple[float, Floats]] = []
    free = np.ones(len(normals), dtype=np.bool_)
    for k in range(min(len(normals), 400)):
        if free[k]:
            same = free & (normals @ normals[k] > np.cos(np.radians(1.0)))
            free &= ~same
            groups.append((float(areas[same].sum()), -normals[k]))
    groups.sort(key=lambda g: -g[0])
    return np.array([g[1] for g in groups[:30]]).reshape(-1, 3)


def _rated(mesh: TriMesh, ups: Floats, limit_deg: float) -> list[Orientation]:
    """Overhang, height and bed contact of directions by face normals alone."""
    normals = mesh.face_normals.astype(np.float32)
    areas, lead = mesh.face_areas, mesh.faces[:, 0]
    steep = np.float32(-np.sin(np.radians(limit_deg + 0.1)))
    result = []
    for start in range(0, len(ups), 40):
        part = ups[start : start + 40]
        tilt = normals @ part.T.astype(np.float32)
        heights = mesh.vertices @ part.T
        low, high = heights.min(axis=0), heights.max(axis=0)
        over = areas @ (tilt < steep)
        face, column = np.nonzero(tilt < -0.9995)
        on_bed_ = heights[lead[face], column] < low[column] + 0.05
        bed = np.bincount(column[on_bed_], areas[face[on_bed_]], minlength=len(part))
        for k in range(len(part)):
            result.append(
                Orientation(
                    part[k],
                    turning_up(part[k]),
                    max(float(over[k] - bed[k]), 0.0),
                    float(high[k] - low[k]),
                    float(bed[k]),
                )
            )
    return result


def _different(order: Sequence[Orientation], count: int) -> list[Orientation]:
    """The first few that are not nearly the same direction."""
    kept: list[Orientation] = []
    for one in order:
        near: Bools = np.array([one.up @ k.up > np.cos(np.radians(_APART_DEG)) for k in kept], dtype=np.bool_)
        if not near.any():
            kept.append(one)
        if len(kept) == count:
            break
    return kept


def _examined(solid: Solid, one: Orientation, printer: PrinterSettings) -> Orientation:
    """The orientation with what its layers, taken coarsely, show."""
    placed, _ = on_bed(solid, one.matrix)
    thick = max(one.height_mm / _COARSE_LAYERS, printer.layer_mm)
    reach = thick * float(np.tan(np.radians(printer.overhang_deg)))
    # On coarse layers a ledge shows several fine ones at once; its limit grows alike.
    ledge = max(printer.ledge_mm / printer.layer_mm * thick, 1.5 * reach)
    found = unsupported_regions(slices_of(placed, thick, 0.5 * _COARSE_MM), printer, reach, ledge)
    return Orientation(
        one.up,
        one.matrix,
        one.overhang_mm2,
        one.height_mm,
        one.bed_mm2,
        sum(u.kind == "island" for u in found),
        sum(u.kind == "bridge" and u.span_mm > printer.bridge_limit_mm for u in found),
        sum(u.falls(ledge, reach) for u in found),
    )

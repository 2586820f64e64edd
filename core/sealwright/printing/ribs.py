"""Ribs that print with a part and break away: a crate of thin walls under everything that hangs over too far.

Upright walls one line thick, and one round the edge, cross each other so close that no line over a cell of
the crate is longer than a clean bridge. They end a layer under the part: it sags on them by that much and
comes off. Their feet stand on the bed, or on the part.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import Solid, difference, solid_of
from .plan import PrintPlan, lowest_of, minutes_of, money_of
from .printer import PrinterSettings
from .slices import Layer, on_bed, slices_of
from .supports import Unsupported, unsupported_regions
from .touchup import TouchUp, touch_ups

if TYPE_CHECKING:
    from manifold3d import CrossSection, Manifold

BESIDE_MM = 0.2  # between a rib and a wall of the part beside it: common practice, no source
DROOP_MM2 = 5.0
"""A smaller ledge beside a rib that reaches less than half a cell droops and is trimmed: no source."""

_SPARE_DEG = 2.0  # what comes near the limit is borne too
_ON_BED_MM = 0.02
_CRUMB_MM3 = 1.0
_SPECK_MM2 = 0.2  # of faces that hang over: a line bears that
_OVER_MM = 5.0


@dataclass(frozen=True, eq=False)
class Ribs:
    """Ribs under a part that stands on z = 0.

    Attributes
    ----------
    printed : as they print, a layer short of the part.
    bearing : the same up to the part, as they bear it.
    """

    printed: Solid
    bearing: Solid


def overhanging(mesh: TriMesh, limit_deg: float) -> Bools:
    """Faces (m,) past the overhang limit of a part that stands on z = 0, but for those on the bed."""
    steep = mesh.face_normals[:, 2] < -np.sin(np.radians(min(limit_deg, 89.9)))
    return np.asarray(steep & (mesh.corners[:, :, 2].max(axis=1) > mesh.bounds[0, 2] + _ON_BED_MM))


def ribs_under(placed: Solid, printer: PrinterSettings) -> Ribs | None:
    """Ribs for a part that stands on z = 0; None where nothing hangs over.

    Raises
    ------
    BooleanFailed : they could not be made.
    """
    mesh = placed.mesh
    crate = _crate(mesh.bounds[:, :2], printer)
    over = overhanging(mesh, printer.overhang_deg - _SPARE_DEG)
    patches = _patches(mesh.submesh(over)) if over.any() else []
    columns = [
        piece for group in _apart(patches) for piece in _columns(group, placed, crate, printer.line_mm)
    ]
    if not columns:
        return None
    bearing = Solid("ribs", _all_of(columns))
    down = np.eye(4)
    down[2, 3] = -printer.layer_mm
    pieces = _pieces(difference("ribs", bearing, placed.moved(down)))
    return Ribs(Solid("ribs", _all_of(pieces)), bearing) if pieces else None


def on_ribs(plan: PrintPlan, printer: PrinterSettings) -> PrintPlan:
    """The plan of a part with ribs under all that hangs over, if anything does.

    Raises
    ------
    BooleanFailed : they could not be made.
    """
    placed, _ = on_bed(solid_of(plan.mesh, plan.role), plan.orientation)
    ribs = ribs_under(placed, printer)
    if ribs is None:
        return plan
    layers = borne(slices_of(placed, printer.layer_mm), slices_of(ribs.bearing, printer.layer_mm), printer)
    found = unsupported_regions(layers, printer)
    volume, back = ribs.printed.volume, np.linalg.inv(plan.placement).astype(np.float64)
    mass = volume * plan.mass_g / plan.volume_mm3
    minutes = minutes_of(volume, 0, printer.layer_mm, printer)
    return replace(
        plan,
        ribs=ribs.printed.moved(back).mesh,
        ribs_mass_g=mass,
        mass_g=plan.mass_g + mass,
        time_min=plan.time_min + minutes,
        cost_money=money_of(plan.mass_g + mass, plan.time_min + minutes, printer),
        found=tuple(found),
        touch_up=_touch_ups(found, printer, back, layers[0].area_mm2, placed.mesh),
        support_free=not any(falls_beside_ribs(one, printer) for one in found),
    )


def falls_beside_ribs(one: Unsupported, printer: PrinterSettings) -> bool:
    """Whether a region fails though ribs stand near: more than a strand or two that droop and are trimmed."""
    strand = one.kind == "ledge" and one.span_mm < 0.5 * clear_mm(printer)
    small = one.area_mm2 < (DROOP_MM2 if strand else printer.line_mm**2)
    return one.needs_support(printer) and not small


def _touch_ups(
    found: list[Unsupported], printer: PrinterSettings, from_bed: Floats, bed_mm2: float, placed: TriMesh
) -> tuple[TouchUp, ...]:
    """What to do by hand; all that droops beside the ribs is one entry."""
    droops = [one for one in found if one.needs_support(printer) and not falls_beside_ribs(one, printer)]
    rest = [one for one in found if one not in droops]
    todo = touch_ups(rest, printer, from_bed, bed_mm2, lowest_of(placed))
    if droops:
        worst = max(droops, key=lambda one: one.span_mm)
        text = (
            f"{len(droops)} strands beside the ribs droop, the widest by {worst.span_mm:.1f} mm at layer "
            f"{worst.layer}: trim them."
        )
        x, y, z = from_bed[:3, :3] @ np.array(worst.point_mm) + from_bed[:3, 3]
        todo.append(TouchUp(text, "ledge", worst.layer, (float(x), float(y), float(z))))
    return tuple(todo)


def borne(layers: list[Layer], ribs: list[Layer], printer: PrinterSettings) -> list[Layer]:
    """The layers of a part with the ribs that bear it; over a cell of their crate a line is a bridge."""
    import manifold3d

    close, join = 0.5 * clear_mm(printer) + 0.05, manifold3d.JoinType.Miter
    return [
        layer
        if rib is None
        else replace(layer, section=layer.section + rib.section.offset(close, join).offset(-close, join))
        for layer, rib in zip_longest(layers, ribs[: len(layers)])
    ]


def clear_mm(printer: PrinterSettings) -> float:
    """Clear width of a square cell whose diagonal is a clean bridge."""
    return float(max(printer.bridge_mm / np.sqrt(2.0), printer.line_mm))


def _shadow(triangles: Floats) -> CrossSection:
    """The region that triangles (m, 3, 2) seen from above cover together; they face down."""
    import manifold3d

    return manifold3d.CrossSection(list(triangles[:, ::-1]), manifold3d.FillRule.NonZero)


def _crate(bounds: Floats, printer: PrinterSettings) -> CrossSection:
    """Crossing lines over a rectangle (2, 2), one line thick, a clean bridge apart."""
    import manifold3d

    (x0, y0), (x1, y1) = bounds
    apart, half = clear_mm(printer) + printer.line_mm, 0.5 * printer.line_mm
    lines = [
        np.array([[x - half, y0], [x + half, y0], [x + half, y1], [x - half, y1]])
        for x in np.arange(x0 + half, x1, apart)
    ]
    lines += [
        np.array([[x0, y - half], [x1, y - half], [x1, y + half], [x0, y + half]])
        for y in np.arange(y0 + half, y1, apart)
    ]
    return manifold3d.CrossSection(lines, manifold3d.FillRule.NonZero)


def _patches(mesh: TriMesh) -> list[Floats]:
    """Corners (m, 3, 3) of each connected patch of faces that is more than a speck."""
    ends = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]]])
    joins = coo_matrix((np.ones(len(ends)), ends.T), shape=(len(mesh.vertices),) * 2)
    _, label = connected_components(joins, directed=False)
    own = label[mesh.faces[:, 0]]
    areas = np.bincount(own, mesh.face_areas)
    return [mesh.corners[own == number] for number in np.flatnonzero(areas > _SPECK_MM2)]


def _apart(patches: list[Floats]) -> list[list[Floats]]:
    """The patches in groups of which no two lie over each other, largest first."""
    groups: list[list[Floats]] = []
    for patch in sorted(patches, key=len, reverse=True):
        for group in groups:
            if not any(_over_each_other(patch, other) for other in group):
                group.append(patch)
                break
        else:
            groups.append([patch])
    return groups


def _over_each_other(one: Floats, other: Floats) -> bool:
    low = np.maximum(one[..., :2].min(axis=(0, 1)), other[..., :2].min(axis=(0, 1)))
    high = np.minimum(one[..., :2].max(axis=(0, 1)), other[..., :2].max(axis=(0, 1)))
    return bool((low < high).all())


def _columns(patches: list[Floats], placed: Solid, crate: CrossSection, line_mm: float) -> list[Manifold]:
    """What of the crate stands under patches that do not lie over each other."""
    tall, tops = [], []
    for corners in patches:
        region = _shadow(corners[..., :2]).offset(-BESIDE_MM)
        lines = (region ^ crate) + (region - region.offset(-line_mm))
        if not lines.is_empty():
            tops.append((region.bounds(), float(corners[..., 2].max())))
            tall.append(lines.extrude(tops[-1][1] + _OVER_MM))
    if not tall:
        return []
    left = _pieces(difference("ribs", Solid("ribs", _all_of(tall)), placed))
    return [piece for piece in left if not _is_open(piece, tops)]


def _is_open(piece: Manifold, tops: list[tuple[tuple[float, float, float, float], float]]) -> bool:
    """Whether a piece ends in the open air, over its patch."""
    x0, y0, _, x1, y1, high = piece.bounding_box()
    x, y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    own = [top for (a, b, c, d), top in tops if a - 1e-6 <= x <= c + 1e-6 and b - 1e-6 <= y <= d + 1e-6]
    return bool(high > min(own, default=0.0) + 0.5 * _OVER_MM)


def _pieces(solid: Solid) -> list[Manifold]:
    """The pieces that are worth printing."""
    return [piece for piece in solid.native.decompose() if piece.volume() > _CRUMB_MM3]


def _all_of(pieces: list[Manifold]) -> Manifold:
    import manifold3d

    return manifold3d.Manifold.batch_boolean(pieces, manifold3d.OpType.Add)

"""A conformal shell: an outline on the skin becomes a shell of one thickness with rolled edges and holes.

The inner side is the skin itself at the stand-off; the outer side lies at one distance from it, so that folds
tighter than the shell is thick are filled instead of folding it. Both are sheets of rays and cannot cross
themselves. The edge is swept outwards from where it leaves the skin. The blank reaches below the skin and is
trimmed by it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ..errors import Folds, Where, plain_point
from ..face.clearance import grown_by_ball
from ..face.face_solid import face_solid
from ..face.stand_off import StandOff, at_distance, sampled
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import crossings
from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import Solid, solid_of
from ..solids.crossings import crossing_pairs
from ..solids.distance import MeshDistance
from .border import Border, Line, border_of
from .clear_of_skin import trimmed_clear
from .edge import edge_section, flat_end
from .outline import Curve, Outline, require_apart
from .refine import split_edges
from .settings import ShellSettings
from .sheet import sheet_within

_BELOW_MM = 0.8  # the blank reaches so far below the skin between its edges, before it is trimmed
_INSIDE = 1.5  # thicknesses from where the edge leaves the skin: the plain shell
_LEFT = 0.4  # of the thickness, where the skin rises into the edge
_SPLITS = 3  # rounds in which long edges of the outer side that sag are split
_OFF_MM = 0.005  # points further off the thickness are sought along their rays,
_SOUGHT_MM = np.arange(-4.0, 8.0, 0.25)  # so far round where they lie,
_HALVINGS = 14  # to less than a micrometre
_LONG_MM, _SAG = (0.8, 1.6), 0.03  # how long, and by what share of the thickness they sag


@dataclass(frozen=True, eq=False)
class ConformalShell:
    """A finished shell in the frame of its face surface, mm.

    Attributes
    ----------
    solid : closed, outward, one piece.
    skin : the face as the solid that it was trimmed by, at the stand-off.
    stand_off : as it was made.
    borders : the outline first, then the holes.
    outer : (k, 3) points of the outer side away from the edges.
    thickness_mm : between both sides.
    folded_mm, folded_at : by how much a filled fold makes it thicker, at most, and where (3,).
    """

    solid: Solid
    skin: Solid
    stand_off: StandOff
    borders: tuple[Border, ...]
    outer: Floats
    thickness_mm: float
    folded_mm: float
    folded_at: Floats


@dataclass(frozen=True, eq=False)
class Blank:
    """A shell before it is trimmed: it reaches below the skin.

    Attributes
    ----------
    solid : closed, outward.
    skin : the face as a solid at the stand-off, round the shell.
    near : (k, 3) skin places under it.
    borders : the outline first, then the holes.
    outer_side : its outer sheet; the first so many points lie at its borders.
    at_borders : so many.
    inner : the skin at the stand-off as a surface.
    """

    solid: Solid
    skin: Solid
    near: Floats
    borders: tuple[Border, ...]
    outer_side: TriMesh
    at_borders: int
    inner: FaceSurface


def blank_shell(
    face: FaceSurface, lines: Sequence[Line], settings: ShellSettings, stand_off: StandOff
) -> Blank:
    """The blank of a shell; arguments and errors as for `conformal_shell`, lines with their edges."""
    inner = _at_stand_off(face, settings.stand_off_mm)
    borders = tuple(border_of(inner, line, settings.smoothing_mm) for line in lines)
    require_apart(inner, [border.outermost for border in borders])
    leaving = [Curve(b.line.outline.role, b.leaves, b.outermost.spacing_mm) for b in borders]
    require_apart(inner, leaving)
    edges = [border.swept() for border in borders]
    near = _near(inner, edges, leaving)
    skin = face_solid(face, near, stand_off)
    to_skin = MeshDistance(skin.mesh)
    for border, edge in zip(borders, edges, strict=True):
        _require_over_skin(inner, to_skin, border, edge)
    solid, top, first = _blank(inner, to_skin, edges, settings.thickness_mm)
    return Blank(solid, skin, near, borders, top, first, inner)


def conformal_shell(
    face: FaceSurface, outline: Outline, holes: Sequence[Outline], settings: ShellSettings
) -> ConformalShell:
    """The shell over an outline.

    Parameters
    ----------
    face : the skin, mm.
    outline : the outermost line of the finished shell, on the skin.
    holes : its openings, free of the rolled edge; those whose role begins with "slot" end flat.
    settings : thickness, edge, stand-off.

    Raises
    ------
    BadOutline : a line crosses itself or another, bends too tightly, or leaves no room for the edges.
    OffTheScan : it leaves the scanned skin.
    Folds : the skin folds more tightly than the shell can follow or may fill.
    DoesNotFit : the edge's radius does not go with the thickness.
    """
    rolled = edge_section(settings.thickness_mm, settings.edge)
    flat = flat_end(settings.thickness_mm)
    lines = [Line(outline, rolled, False)]
    lines += [Line(hole, flat if hole.role.startswith("slot") else rolled, True) for hole in holes]
    stand_off = StandOff(settings.stand_off_mm)
    blank = blank_shell(face, lines, settings, stand_off)
    solid, skin, off = trimmed_clear(blank.solid, face, blank.near, stand_off, blank.skin)
    if off.rounded_mm is not None:  # the outer side follows what was lifted, or the shell would be thin there
        blank = blank_shell(face, lines, settings, off)
        solid, skin, off = trimmed_clear(blank.solid, face, blank.near, off, blank.skin)
    folded, at = _require_shallow(blank.outer_side, blank.near, blank.borders, settings)
    outer = blank.outer_side.vertices[blank.at_borders :]
    if solid.genus != len(holes):
        raise _too_tight(settings.thickness_mm, outer[int(np.argmin(blank.inner.height_of(outer)))])
    return ConformalShell(solid, skin, off, blank.borders, outer, settings.thickness_mm, folded, at)


def _at_stand_off(face: FaceSurface, distance_mm: float) -> FaceSurface:
    """The skin at a distance as a surface of its own."""
    if distance_mm == 0.0:
        return face
    radii = grown_by_ball(face.chart, face.radii, distance_mm)
    return replace(face, radii=np.where(face.known, radii, np.nan), scan=None)


def _near(inner: FaceSurface, edges: Sequence[Floats], leaving: Sequence[Curve]) -> Floats:
    """Skin points (k, 3) under the whole shell and its edges."""
    sheet, _ = sheet_within(inner.chart, [curve.points for curve in leaving], inner.skin_at)
    return np.vstack([sheet.vertices, *[edge.reshape(-1, 3) for edge in edges]])


def _require_over_skin(inner: FaceSurface, to_skin: MeshDistance, border: Border, edge: Floats) -> None:
    """Refuse an edge that the skin rises into, as beside a fold.

    Raises
    ------
    Folds : too little of its thickness would be left.
    """
    thickness = border.line.section.thickness_mm
    outer = edge[:, : edge.shape[1] // 3].reshape(-1, 3)
    left = to_skin.to(outer) * np.sign(inner.height_of(outer))
    worst = int(np.argmin(left))
    if left[worst] < _LEFT * thickness:
        role = border.line.outline.role
        raise Folds(
            f"The skin rises into the edge of the {role} and leaves {max(left[worst], 0.0):.1f} mm of it.",
            Where(role, point=plain_point(outer[worst])),
            "Draw it elsewhere there, with more stand-off, or with an edge that reaches less far.",
        )


def _require_shallow(
    outer: TriMesh, near: Floats, borders: Sequence[Border], settings: ShellSettings
) -> tuple[float, Floats]:
    """How far folds of the skin make the shell thicker, at most, mm, and where (3,).

    Raises
    ------
    Folds : further than allowed.
    """
    ends = np.vstack([border.leaves for border in borders])
    reach = _INSIDE * settings.thickness_mm
    inside = near[cKDTree(ends).query(near, distance_upper_bound=reach)[0] == np.inf]
    if len(inside) == 0:
        return 0.0, near[0]
    thicker = MeshDistance(outer).to(inside) - settings.thickness_mm
    worst = int(np.argmax(thicker))
    if thicker[worst] > settings.fold_mm:
        raise Folds(
            f"The skin folds more tightly than the shell is thick ({settings.thickness_mm:g} mm), which "
            f"would fill a fold {thicker[worst]:.1f} mm deep; {settings.fold_mm:g} mm are allowed.",
            Where("shell", point=plain_point(inside[worst]), key="recipe.shell.fold_mm"),
            "Draw the outline round the fold, allow a deeper one, or take a thinner shell.",
        )
    return max(float(thicker[worst]), 0.0), inside[worst]


def _blank(
    inner: FaceSurface, to_skin: MeshDistance, edges: Sequence[Floats], thickness_mm: float
) -> tuple[Solid, TriMesh, int]:
    """The shell before it is trimmed, its outer side, and how many of its points lie at its borders.

    Raises
    ------
    Folds : it crosses itself.
    """
    chart = inner.chart
    grown = grown_by_ball(chart, inner.radii, thickness_mm)

    def outer_side(pq: Floats) -> Floats:
        """Points at the thickness from the skin."""
        points = chart.centre + chart.direction_at(pq) * sampled(grown, chart, pq)[..., None]
        points = at_distance(points, chart.centre, to_skin, thickness_mm)
        off = np.abs(to_skin.to(points) - thickness_mm) > _OFF_MM
        points[off] = _outermost(points[off], chart.centre, to_skin, thickness_mm)
        return points

    def sagging(one: Floats, two: Floats) -> Bools:
        """Edges that are long, and shorter ones whose middle lies off the thickness."""
        length = np.linalg.norm(one - two, axis=1)
        off = length > _LONG_MM[0]
        away = to_skin.to(0.5 * (one[off] + two[off]))
        off[off] = np.abs(away - thickness_mm) > _SAG * thickness_mm
        return np.asarray(off | (length > _LONG_MM[1]))

    def below(pq: Floats) -> Floats:
        """Points below the skin."""
        return inner.skin_at(pq) - _BELOW_MM * chart.direction_at(pq)

    for edge in edges:
        for side in (edge[:, 0], edge[:, -1]):
            crossed = np.flatnonzero(crossings(chart.place_of(side)[0]))
            if len(crossed):
                raise _too_tight(thickness_mm, side[crossed[0]])
    top, border = sheet_within(chart, [edge[:, 0] for edge in edges], outer_side)
    for _ in range(_SPLITS):
        top = split_edges(top, sagging, lambda points: outer_side(chart.place_of(points)[0]))
    bottom, _ = sheet_within(chart, [edge[:, -1] for edge in edges], below)
    mesh = _closed(top, bottom, edges)
    pairs = crossing_pairs(mesh)
    if len(pairs):
        raise _too_tight(thickness_mm, mesh.corners[pairs[0, 0]].mean(axis=0))
    return solid_of(mesh, "shell"), top, border


def _outermost(start: Floats, centre: Floats, skin: MeshDistance, distance_mm: float) -> Floats:
    """Points (n, 3) moved along their rays to the outermost place near by at a distance from the skin.

    For the few where Newton's rule swings, as beside a fold that the ray grazes.
    """
    ray = start - centre
    radius = np.linalg.norm(ray, axis=1)
    ray = ray / np.maximum(radius, 1e-9)[:, None]
    steps = radius[:, None] + _SOUGHT_MM
    places = centre + steps[..., None] * ray[:, None]
    near = skin.to(places.reshape(-1, 3)).reshape(steps.shape) < distance_mm
    last = near.shape[1] - 1 - np.argmax(near[:, ::-1], axis=1)
    found = near.any(axis=1) & (last < near.shape[1] - 1)
    number = np.arange(len(start))
    low, high = steps[number, last], steps[number, np.minimum(last + 1, near.shape[1] - 1)]
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        inside = skin.to(centre + middle[:, None] * ray) < distance_mm
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return np.where(found[:, None], centre + high[:, None] * ray, start)


def _too_tight(thickness_mm: float, point: Floats) -> Folds:
    return Folds(
        f"The skin bends too tightly there for a shell {thickness_mm:.2g} mm thick: its sides would cross.",
        Where("shell", point=plain_point(point)),
        "Draw it elsewhere or rounder, take a thinner shell or a smaller edge.",
    )


def _closed(top: TriMesh, bottom: TriMesh, edges: Sequence[Floats]) -> TriMesh:
    """Both sheets and the edges between their borders as one closed, outward surface."""
    points, faces = [top.vertices, bottom.vertices], [top.faces, bottom.faces[:, ::-1] + len(top.vertices)]
    count, first = len(top.vertices) + len(bottom.vertices), 0
    for edge in edges:
        stations, rows = edge.shape[:2]
        here = first + np.arange(stations)
        index = np.empty((stations, rows), dtype=np.int32)
        index[:, 0], index[:, -1] = here, len(top.vertices) + here
        index[:, 1:-1] = count + np.arange(stations * (rows - 2)).reshape(stations, -1)
        points.append(edge[:, 1:-1].reshape(-1, 3))
        after = np.roll(index, -1, axis=0)
        a, b, c, d = index[:, :-1], index[:, 1:], after[:, 1:], after[:, :-1]
        faces.append(np.stack([a, b, c], axis=-1).reshape(-1, 3))
        faces.append(np.stack([a, c, d], axis=-1).reshape(-1, 3))
        count, first = count + stations * (rows - 2), first + stations
    return TriMesh(np.vstack(points), np.vstack(faces).astype(np.int32))

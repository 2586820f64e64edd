"""Outlines on the skin: points near the skin become even closed curves on it, or are refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import BadOutline, OffTheScan, Where, plain_point
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import (
    arc_lengths,
    closed_spline,
    crossings,
    meetings,
    resampled,
    smoothed_round,
)
from ..mesh import Floats
from ..settings.fields import APART_MM, LEAST_POINTS
from ..solids.polygon import closed_edges, inside_edges, polygon_area

_NEAR_MM = 10.0  # a point further from the skin was meant for another place
_LEAST_SLANT = 0.2  # cosine between ray and skin, from which distances square to the skin are reckoned
_DENSE = 600  # places the line is first sampled at
_SPACING_MM = 0.8
_LEAST = 48  # stations of a small hole
_MOST = 2000


@dataclass(frozen=True, eq=False)
class Outline:
    """A closed line as the maker drew it.

    Attributes
    ----------
    role : "outline", "hole 1", ...
    points : (k, 3) in order, mm, on or near the skin.
    smooth : a smooth curve through the points; else straight lines between them.
    """

    role: str
    points: Floats
    smooth: bool = True


@dataclass(frozen=True, eq=False)
class Curve:
    """A closed curve on a surface with the shell on its left, seen from outside.

    Attributes
    ----------
    role : as that of its outline.
    points : (n, 3) evenly spaced, mm.
    spacing_mm : between neighbours.
    """

    role: str
    points: Floats
    spacing_mm: float


def curve_on(face: FaceSurface, outline: Outline, hole: bool, smoothing_mm: float) -> Curve:
    """An outline as an even, smoothed curve on a surface.

    Parameters
    ----------
    face : the skin, or the skin at a stand-off.
    outline : the drawn line.
    hole : the shell lies outside of it.
    smoothing_mm : smoothing length along the curve.

    Raises
    ------
    BadOutline : too few points, or the line crosses itself.
    OffTheScan : a point or the line between points has no skin under it.
    """
    points = _kept(outline)
    _require_near(face, points, outline.role)
    pq = _drawn(face.chart.place_of(points)[0], outline.smooth)
    off = np.flatnonzero(~face.is_known(pq))
    if len(off):
        raise OffTheScan(
            f"The {outline.role} leaves the scan along {100.0 * len(off) / len(pq):.0f} % of its length.",
            Where(outline.role, point=plain_point(face.skin_at(pq[off[0]]))),
            "Move its points onto scanned skin, or scan again with this place in view.",
        )
    if (polygon_area(pq) < 0.0) != hole:
        pq = pq[::-1]
    _require_simple(face, pq, outline.role)
    length = float(arc_lengths(face.skin_at(pq))[-1])
    count = int(np.clip(length / _SPACING_MM, _LEAST, _MOST))
    for _ in range(2):  # the second pass evens what the smoothing moved
        skin = face.skin_at(pq)
        arc = arc_lengths(skin)
        even = resampled(pq, arc, count)
        pq = smoothed_round(even, smoothing_mm / (arc[-1] / count) / np.sqrt(2.0))
    return Curve(outline.role, face.skin_at(pq), float(arc_lengths(face.skin_at(pq))[-1]) / count)


def _kept(outline: Outline) -> Floats:
    """The points without those that repeat the one before."""
    points = np.asarray(outline.points, dtype=np.float64)
    step = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) if len(points) else np.zeros(0)
    points = points[step >= APART_MM]
    if len(points) < LEAST_POINTS:
        raise BadOutline(
            f"The {outline.role} has {len(points)} different points; a closed line needs {LEAST_POINTS}.",
            Where(outline.role, point=plain_point(points[0]) if len(points) else None),
            "Give more points round the shape.",
        )
    return points


def _require_near(face: FaceSurface, points: Floats, role: str) -> None:
    pq, _ = face.chart.place_of(points)
    off = np.flatnonzero(~face.is_known(pq))
    if len(off):
        raise OffTheScan(
            f"{len(off)} of {len(points)} points of the {role} have no skin under them.",
            Where(role, point=plain_point(points[off[0]]), indices=tuple(off[:100].tolist())),
            "Move them onto scanned skin, or scan again with this place in view.",
        )
    cosine = (face.chart.direction_at(pq) * face.normal_at(pq)).sum(axis=1)
    away = np.abs(face.height_of(points)) * np.clip(cosine, _LEAST_SLANT, 1.0)
    far = int(np.argmax(away))
    if away[far] > _NEAR_MM:
        raise OffTheScan(
            f"Point {far} of the {role} lies {away[far]:.0f} mm off the skin.",
            Where(role, point=plain_point(points[far]), indices=(far,)),
            "Give points on the skin, in the coordinates of the scan.",
        )


def _drawn(pq: Floats, smooth: bool) -> Floats:
    """The line on the chart (n, 2) through points (k, 2)."""
    if smooth:
        return closed_spline(pq, _DENSE)
    ring = np.column_stack([pq, np.zeros(len(pq))])
    return resampled(pq, arc_lengths(ring), _DENSE)


def _require_simple(face: FaceSurface, pq: Floats, role: str) -> None:
    crossed = np.flatnonzero(crossings(pq))
    if len(crossed):
        raise BadOutline(
            f"The {role} crosses itself.",
            Where(role, point=plain_point(face.skin_at(pq[crossed[0]]))),
            "Put its points in order round the shape.",
        )


def require_apart(face: FaceSurface, curves: Sequence[Curve]) -> None:
    """Refuse curves that meet, holes outside of the outline (the first), and holes in holes.

    Raises
    ------
    BadOutline : names the two.
    """
    flat = [face.chart.place_of(curve.points)[0] for curve in curves]
    for second in range(1, len(curves)):
        for first in range(second):
            crossed = np.flatnonzero(meetings(flat[first], flat[second]))
            met = flat[first][crossed[0]] if len(crossed) else None
            inside = inside_edges(flat[second][:1], closed_edges(flat[first]))[0]
            around = inside_edges(flat[first][:1], closed_edges(flat[second]))[0]
            if met is None and inside == (first == 0) and not around:
                continue
            at = flat[second][0] if met is None else met
            one, two = curves[first].role, curves[second].role
            what = f"The {two} meets the {one}." if met is not None else f"The {two} lies wrong to the {one}."
            raise BadOutline(
                what,
                Where(two, point=plain_point(face.skin_at(at))),
                "Keep holes inside of the outline and apart from each other, with room for the rolled edges.",
            )

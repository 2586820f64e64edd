"""Triangles on a star-shaped field: rings of evenly spaced points, solved exactly along rays from a centre.

The rings run from the crown to the cut through the neck. Each has as many points as its length asks
for, so triangles are near equilateral everywhere; the mesh is one manifold sheet with one boundary by
construction. Only the half x >= 0 is solved; the other is its mirror image.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates, maximum_filter
from sealwright.mesh import Floats, Ints

from .edge_flips import rounder

Field = Callable[[Floats], Floats]

_COLUMNS, _ROWS = 97, 145  # azimuths over half a turn, polar steps: about 3 mm on a head
_FAR_MM = 230.0  # beyond every point of a head, seen from its centre
_STEP = 0.7  # share of the field value marched at once; the fields are not true distances
_CLOSE_MM = 0.02
_CHUNK = 40_000  # points per call: keeps temporaries in the cache


@dataclass(frozen=True)
class Star:
    """A field that every ray from ``centre`` leaves once, cut by a level plane below.

    Attributes
    ----------
    field : (n, 3) mm -> (n,) mm, negative inside.
    plain : the same without overhanging parts (ears); points are laid out on it, so that their steep sides
        do not drag the rings about.
    centre : (3,) mm, on the mirror plane.
    floor_mm : z of the cut.
    """

    field: Field
    plain: Field
    centre: Floats
    floor_mm: float


def directions(polar: Floats, azimuth: Floats) -> Floats:
    """Unit vectors (n, 3): polar angle from +Z, azimuth from -Y (front) towards +X, radians."""
    flat = np.sin(polar)
    return np.stack([flat * np.sin(azimuth), -flat * np.cos(azimuth), np.cos(polar)], axis=-1)


def march(field: Field, origin: Floats, rays: Floats, start: Floats) -> Floats:
    """Distance (n,) along rays at which they enter the field from outside, walking inward from ``start``.

    Parameters
    ----------
    origin : (3,) or (n, 3); rays : (n, 3) unit vectors pointing out; start : (n,) mm, outside the field.
    """
    out = np.empty(len(rays))
    origin = np.broadcast_to(origin, rays.shape)
    for lo in range(0, len(rays), _CHUNK):
        part = slice(lo, lo + _CHUNK)
        out[part] = _march_chunk(field, origin[part], rays[part], start[part])
    return out


def _march_chunk(field: Field, origin: Floats, rays: Floats, start: Floats) -> Floats:
    reach = np.array(start, dtype=float)
    value = np.full(len(reach), np.inf)
    active = np.arange(len(reach))
    for _ in range(80):
        found = field(origin[active] + reach[active, None] * rays[active])
        value[active] = found
        walking = found > _CLOSE_MM
        active = active[walking]
        if len(active) == 0:
            break
        reach[active] -= _STEP * found[walking]
    return _polish(field, origin, rays, reach, value)


def _polish(field: Field, origin: Floats, rays: Floats, reach: Floats, value: Floats) -> Floats:
    """Three secant steps from a nearby start; steps are bounded so that a grazing ray cannot run away."""
    before, value_before = reach, value
    reach = reach - np.clip(value, -1.0, 1.0)
    for _ in range(3):
        value = field(origin + reach[:, None] * rays)
        slope = (value - value_before) / np.where(reach == before, 1.0, reach - before)
        step = np.divide(value, slope, out=np.zeros_like(value), where=np.abs(slope) > 1e-3)
        before, value_before = reach, value
        reach = reach - np.clip(step, -0.5, 0.5)
    return reach


@dataclass(frozen=True)
class Chart:
    """Coarse map of a star surface, from which finer ones are laid out.

    Attributes
    ----------
    star : the surface.
    azimuths : (c,) radians, 0 to pi.
    lowest : (c,) polar angle of the cut at each azimuth.
    reach, radii : (r, c) mm at polar angle ``lowest * row / (r - 1)``, with and without overhanging parts.
    shares : (r, c) share of the meridian's length, 0 at the crown to 1 at the cut, smoothed over azimuth.
    area_mm2 : area of the half surface.
    mean_meridian_mm : mean length of the meridians.
    """

    star: Star
    azimuths: Floats
    lowest: Floats
    reach: Floats
    radii: Floats
    shares: Floats
    area_mm2: float
    mean_meridian_mm: float

    def points(self, polar: Floats, azimuth: Floats) -> Floats:
        """Exact surface points (n, 3), mm."""
        row = polar / np.interp(azimuth, self.azimuths, self.lowest) * (_ROWS - 1)
        column = azimuth / np.pi * (_COLUMNS - 1)
        near = map_coordinates(maximum_filter(self.reach, 3), [row, column], order=1, mode="nearest")
        rays = directions(polar, azimuth)
        reach = march(self.star.field, self.star.centre, rays, near + 2.0)
        return self.star.centre + reach[:, None] * rays


def chart_of(star: Star) -> Chart:
    """Solve a star surface on a coarse grid."""
    azimuths = np.linspace(0.0, np.pi, _COLUMNS)
    level = directions(np.full(_COLUMNS, np.pi / 2), azimuths)
    foot = np.array([star.centre[0], star.centre[1], star.floor_mm])
    rim = march(star.plain, foot, level, np.full(_COLUMNS, _FAR_MM))
    lowest = np.arctan2(rim, star.floor_mm - star.centre[2])
    polar = np.linspace(0, 1, _ROWS)[:, None] * lowest
    rays = directions(polar, np.broadcast_to(azimuths, polar.shape))
    flat = rays.reshape(-1, 3)
    reach = march(star.field, star.centre, flat, np.full(len(flat), _FAR_MM))
    radii = march(star.plain, star.centre, flat, reach + 2.0).reshape(polar.shape)
    points = star.centre + radii[..., None] * rays
    steps = np.linalg.norm(np.diff(points, axis=0), axis=-1)
    lengths = np.vstack([np.zeros(_COLUMNS), np.cumsum(steps, axis=0)])
    shares = gaussian_filter1d(lengths / lengths[-1], 6.0, axis=1, mode="mirror")
    across = np.diff(points, axis=1)[:-1]
    area = np.linalg.norm(np.cross(np.diff(points, axis=0)[:, :-1], across), axis=-1).sum()
    reach = reach.reshape(polar.shape)
    return Chart(star, azimuths, lowest, reach, radii, shares, float(area), float(lengths[-1].mean()))


@dataclass(frozen=True)
class Layout:
    """Where the points of the half surface go: rings from the crown to the cut.

    Attributes
    ----------
    counts : (k,) edges on each half ring; the first is 0, the crown.
    polar, azimuth : (n,) radians, ring after ring, each from the front to the back.
    """

    counts: NDArray[np.int64]
    polar: Floats
    azimuth: Floats


def ring_lengths(chart: Chart, shares: Floats) -> tuple[Floats, Floats]:
    """Cumulative lengths along half rings.

    Parameters
    ----------
    shares : (k,) shares of the meridian.

    Returns
    -------
    polar : (k, c) polar angle at the chart's azimuths; lengths : (k, c) mm, smoothed.
    """
    rows = np.stack(
        [np.interp(shares, column, np.linspace(0, 1, _ROWS)) for column in chart.shares.T], axis=1
    )
    columns = np.broadcast_to(np.arange(_COLUMNS), rows.shape)
    radii = map_coordinates(chart.radii, [rows * (_ROWS - 1), columns], order=1, mode="nearest")
    polar = rows * chart.lowest
    points = radii[..., None] * directions(polar, np.broadcast_to(chart.azimuths, polar.shape))
    steps = gaussian_filter1d(np.linalg.norm(np.diff(points, axis=1), axis=-1), 4.0, axis=1, mode="mirror")
    return polar, np.hstack([np.zeros((len(shares), 1)), np.cumsum(steps, axis=1)])


def layout(chart: Chart, triangles: int) -> Layout:
    """Place points for about ``triangles`` triangles on the whole head (within 2 %)."""
    edge = np.sqrt(4.0 / np.sqrt(3.0) * chart.area_mm2 / (triangles / 2.0))
    for _ in range(3):
        counts, polar, lengths = _rings(chart, edge)
        made = 2 * int(2 * counts.sum() - counts[-1])
        edge *= np.sqrt(made / triangles)
    counts, polar, lengths = _rings(chart, edge)
    all_polar, all_azimuth = [np.zeros(1)], [np.zeros(1)]
    for count, ring, length in zip(counts[1:], polar[1:], lengths[1:], strict=True):
        azimuth = np.interp(np.linspace(0, length[-1], count + 1), length, chart.azimuths)
        azimuth[[0, -1]] = 0.0, np.pi
        all_azimuth.append(azimuth)
        all_polar.append(np.interp(azimuth, chart.azimuths, ring))
    return Layout(counts, np.concatenate(all_polar), np.concatenate(all_azimuth))


def _rings(chart: Chart, edge: float) -> tuple[NDArray[np.int64], Floats, Floats]:
    meridian = chart.mean_meridian_mm
    shares = np.linspace(0.0, 1.0, max(4, round(meridian / (edge * np.sqrt(3.0) / 2.0))) + 1)
    polar, lengths = ring_lengths(chart, shares)
    counts = np.maximum(3, np.round(lengths[:, -1] / edge)).astype(np.int64)
    counts[0] = 0
    return counts, polar, lengths


def half_faces(counts: NDArray[np.int64]) -> Ints:
    """Triangles (m, 3) between half rings, counter-clockwise seen from outside."""
    first = np.concatenate([[0], np.cumsum(counts + 1)])
    strips = []
    for k in range(len(counts) - 1):
        a, b = int(counts[k]), int(counts[k + 1])
        middle_a, middle_b = (np.arange(a) + 0.5) / max(a, 1), (np.arange(b) + 0.5) / b
        apex_a = np.searchsorted(middle_b, middle_a, side="left")
        apex_b = np.searchsorted(middle_a, middle_b, side="right")
        i, j = np.arange(a), np.arange(b)
        strips.append(np.stack([first[k] + i, first[k + 1] + apex_a, first[k] + i + 1], axis=1))
        strips.append(np.stack([first[k + 1] + j, first[k + 1] + j + 1, first[k] + apex_b], axis=1))
    return np.vstack(strips).astype(np.int32)


def whole_sheet(star_chart: Chart, triangles: int) -> tuple[Floats, Ints]:
    """Vertices (n, 3) mm and triangles (m, 3) of the whole surface, mirrored exactly about x = 0."""
    plan = layout(star_chart, triangles)
    half = star_chart.points(plan.polar, plan.azimuth)
    faces = rounder(half, half_faces(plan.counts))
    ends = np.cumsum(plan.counts + 1)
    seam = np.zeros(len(half), dtype=bool)
    seam[ends - 1] = True
    seam[np.concatenate([[0], ends[:-1]])] = True
    half[seam, 0] = 0.0
    twin = np.where(seam, np.arange(len(half)), len(half) + np.cumsum(~seam) - 1)
    vertices = np.vstack([half, half[~seam] * [-1.0, 1.0, 1.0]])
    return vertices, np.vstack([faces, twin[faces][:, ::-1]]).astype(np.int32)

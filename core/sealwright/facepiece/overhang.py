"""What prints without supports when the body stands on its port: slopes of grids, and the fill under a rim.

Up in the print is against the port's axis. A surface overhangs by the angle between it and the vertical, so
its outward normal n has n . axis = sin(overhang): at the limit of 45 degrees 0.7071.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..mesh import Floats, dots
from .closed_curve import smoothed_round

_TOUCH_MM = 1e-6
_FILL_OVER_DEG = 0.4
_BLEND_MM = 1.5  # half width of the rounding where a fill meets the wall
_FILL_SLOPE = (0.4, 1.2)  # of the end of a fill along the stations
_EASED_STATIONS = 10
_TURN_STATIONS = 2.0
_FLATTER_ROUNDS, _FLATTER_DEG = 3, 25.0  # of a lower limit where fills fan out; a much lower one never ends
_BORNE_DEG, _SLACK_DEG = 2.0, 0.3  # past the limit: what the wall keeps from that of the printer
_SPECK_MM2 = 0.05


@dataclass(frozen=True)
class PrintDown:
    """How the body stands in the print.

    Attributes
    ----------
    axis : unit direction (3,) to the bed, face frame: the port's axis.
    throat : middle of the opening where the wall ends, mm.
    throat_mm : its radius.
    limit_deg : largest overhang from the vertical.
    """

    axis: tuple[float, float, float]
    throat: tuple[float, float, float]
    throat_mm: float
    limit_deg: float

    @property
    def down(self) -> Floats:
        """The axis as an array."""
        return np.asarray(self.axis)

    @property
    def limit_rad(self) -> float:
        """The limit in radians."""
        return float(np.radians(self.limit_deg))

    def room_mm(self, points: Floats) -> Floats:
        """How much higher than needed points (..., 3) stand over the throat, mm.

        The cone that rises from the throat's rim at the limit is the flattest wall that prints; a wall from
        a point below it cannot.
        """
        away = points - np.asarray(self.throat)
        height = -(away @ self.down)
        across = np.linalg.norm(away + height[..., None] * self.down, axis=-1)
        return np.asarray(height - (across - self.throat_mm) / np.tan(self.limit_rad))


def print_down(port: Floats, throat_mm: float, limit_deg: float) -> PrintDown:
    """The print of a body on a port with a 4x4 frame, throat radius in mm."""
    axis, origin = (tuple(float(c) for c in port[:3, column]) for column in (2, 3))
    return PrintDown(axis, origin, throat_mm, limit_deg)  # type: ignore[arg-type]


def overhang_deg(grid: Floats, down: PrintDown) -> Floats:
    """Overhang (n, k - 1) of the quads of a grid (n, k, 3) closed along its stations, degrees.

    Positive where the side away from the skin faces the bed, negative where the skin side does.
    """
    normal = _quad_areas(grid)
    size = np.maximum(np.linalg.norm(normal, axis=-1), 1e-12)
    return np.asarray(np.degrees(np.arcsin(np.clip(normal @ down.down / size, -1.0, 1.0))))


def overhang_mm2(outer: Floats, inner: Floats, down: PrintDown, slack_deg: float = 1.0) -> float:
    """Area past the limit of a wall with an outer and a chamber side (n, k, 3), mm2."""
    total = 0.0
    for grid, sign in ((outer, 1.0), (inner, -1.0)):
        area = np.linalg.norm(_quad_areas(grid), axis=-1)
        total += float(area[sign * overhang_deg(grid, down) > down.limit_deg + slack_deg].sum())
    return total


def _quad_areas(grid: Floats) -> Floats:
    """Area vectors (n, k - 1, 3) of the quads, away from the skin."""
    after = np.roll(grid, -1, axis=0)
    return np.asarray(0.5 * np.cross(after[:, 1:] - grid[:, :-1], after[:, :-1] - grid[:, 1:]))


def limit_normal(along: Floats, down: PrintDown, limit_rad: Floats | None = None) -> Floats:
    """Normals (..., 3) of surfaces at the limit through closed curves with tangents (..., 3).

    A surface through a steep stretch of the curve cannot reach the limit; there the normal is the nearest.
    ``limit_rad`` (..., 1) is another limit in places; None is that of the print.
    """
    level = down.down - (along @ down.down)[..., None] * along
    size = np.sqrt(dots(level, level))[..., None]
    level = level / np.maximum(size, 1e-9)
    out = np.cross(level, along)
    sine = np.sin(down.limit_rad if limit_rad is None else limit_rad)
    sine = np.minimum(sine / np.maximum(size, 1e-9), 1.0)
    return np.asarray(sine * level + np.sqrt(1.0 - sine**2) * out)


def fill_under_rim(
    edge: Floats, outer: Floats, sources: int, down: PrintDown, sigma_stations: float
) -> tuple[Floats, Floats]:
    """The outer side of a shell without overhang: under a rim or flange it is filled down to the wall.

    From the rim inwards every point is moved, square to the steepest printable surface through the point
    before it, until it lies on that surface: the union of the shell with what it needs to stand on. Surfaces
    of equal slope keep their normal along their lines of fall, so a fill keeps that of its rim. A second run
    mends what hangs over at the ends of the fills along the stations. Where the rim turns within a few
    stations the fills of neighbours fan out and hang over between them: there all is done again with a lower
    limit.

    Parameters
    ----------
    edge : (n, c, 3) the rounded free edge, from its outer to its face side.
    outer : (n, k, 3) the outer side, from the edge to the port; stations run so that along x across points
        away from the skin.
    sources : rows of the outer side that may hang over; rows after them only end the fill.
    sigma_stations : smoothing of the tangents.

    Returns
    -------
    edge, outer : the same grids, moved.
    """
    # A wall at the limit would never meet a fill at the same limit.
    limit_deg = np.full(len(outer), down.limit_deg + _FILL_OVER_DEG)
    for _ in range(_FLATTER_ROUNDS):
        rim, filled = _filled_twice(edge, outer, sources, _Limit(down, limit_deg), sigma_stations)
        over = _over_deg(np.concatenate([rim[:, ::-1], filled[:, :sources]], axis=1), down)
        if over.max() <= _SLACK_DEG:
            break
        limit_deg = np.maximum(limit_deg - over, down.limit_deg - _FLATTER_DEG)
    return rim, filled


def _over_deg(grid: Floats, down: PrintDown) -> Floats:
    """How far (n,) the quads at a station and its neighbours pass the limit, degrees."""
    large = np.linalg.norm(_quad_areas(grid), axis=-1) > _SPECK_MM2
    most = np.where(large, overhang_deg(grid, down) - down.limit_deg - _BORNE_DEG, 0.0).max(axis=1)
    near = ndimage.maximum_filter1d(np.maximum(most, np.roll(most, 1)), 3, mode="wrap")
    return np.asarray(ndimage.uniform_filter1d(near.clip(0.0), 3, mode="wrap"))


@dataclass(frozen=True, eq=False)
class _Limit:
    """How the body stands in the print, and the largest overhang (n,) of fills by station, degrees."""

    down: PrintDown
    deg: Floats


def _filled_twice(
    edge: Floats, outer: Floats, sources: int, limit: _Limit, sigma_stations: float
) -> tuple[Floats, Floats]:
    """Two runs of the fill, see `fill_under_rim`."""
    for _ in range(2):
        edge, filled = _filled(edge, outer, sources, limit, sigma_stations)
        moved = np.flatnonzero((np.linalg.norm(filled - outer, axis=-1) > _TOUCH_MM).any(axis=0))
        outer, sources = filled, max([sources, *(moved[-1:] + 1)])
    return edge, outer


def _filled(
    edge: Floats, outer: Floats, sources: int, limit: _Limit, sigma_stations: float
) -> tuple[Floats, Floats]:
    """One run of the fill; see `fill_under_rim`."""
    plain = np.concatenate([edge[:, ::-1], outer], axis=1)
    count, rows = edge.shape[1], plain.shape[1]
    depth, normals = np.zeros(plain.shape[:2]), np.zeros_like(plain)
    plane = _Planes(len(plain))
    along = tangents_along(plain[:, : count + sources - 1], sigma_stations)
    own = limit_normal(along, limit.down, np.radians(limit.deg)[:, None, None])
    for row in range(1, rows):
        before = plain[:, row - 1] + depth[:, row - 1, None] * normals[:, row - 1]
        if row < count + sources:
            plane.start(before, own[:, row - 1], plain[:, row])
        depth[:, row], normals[:, row] = plane.depth(plain[:, row]), plane.normal
    weighed = smoothed_round(normals * (depth[..., None] + _TOUCH_MM), _TURN_STATIONS)
    depth[:, count:] = _eased(depth[:, count:], outer, limit.down)
    filled = plain + depth[..., None] * weighed / np.maximum(
        np.linalg.norm(weighed, axis=-1, keepdims=True), 1e-12
    )
    return filled[:, :count][:, ::-1], filled[:, count:]


class _Planes:
    """For each station the printable surface that a fill follows, until it has sunk into the wall."""

    def __init__(self, stations: int) -> None:
        self.point, self.normal = np.zeros((stations, 3)), np.zeros((stations, 3))
        self._peak = np.zeros(stations)  # deepest so far; 0 where no fill is under way

    def start(self, point: Floats, normal: Floats, following: Floats) -> None:
        """Begin a fill through points (n, 3) where the surface goes on less steeply and none goes deeper."""
        needed = -dots(following - point, normal)
        running = -dots(following - self.point, self.normal)
        begins = (needed > _TOUCH_MM) & ((self._peak == 0) | (running < 0))
        idle = self._peak == 0
        self.point = np.where(begins[:, None], point, self.point)
        self.normal = np.where((begins | idle)[:, None], normal, self.normal)
        self._peak = np.where(begins, needed, self._peak)

    def depth(self, points: Floats) -> Floats:
        """How far points (n, 3) must move along the normals; fades out where the fill meets the wall."""
        needed = -dots(points - self.point, self.normal)
        self._peak = np.where(self._peak > 0, np.maximum(self._peak, needed), 0.0)
        blend = np.minimum(_BLEND_MM, 0.5 * self._peak)
        soft = np.where(needed >= blend, needed, (needed + blend) ** 2 / (4.0 * np.maximum(blend, 1e-9)))
        deep = np.where((self._peak > 0) & (needed > -blend), soft, 0.0)
        self._peak = np.where(deep > 0, self._peak, 0.0)
        return deep


def _eased(depth: Floats, grid: Floats, down: PrintDown) -> Floats:
    """Depths (n, k) raised beside deep places, so that a fill ends in a slope along the stations.

    An end of slope s whose line climbs in the print at the sine t overhangs by no more than the fill itself
    when s >= 2 sin(limit) t / (sin(limit)^2 - t^2).
    """
    step = np.roll(grid, -1, axis=0) - grid
    length = np.linalg.norm(step, axis=-1)
    climb = -(step @ down.down) / np.maximum(length, 1e-9)
    onwards, back = length * _end_slope(climb, down), length * _end_slope(-climb, down)
    for _ in range(_EASED_STATIONS):
        depth = np.maximum(depth, np.roll(depth - onwards, 1, axis=0))
        depth = np.maximum(depth, np.roll(depth, -1, axis=0) - back)
    return depth


def _end_slope(climb: Floats, down: PrintDown) -> Floats:
    sine = np.sin(down.limit_rad)
    climb = np.clip(climb, 0.0, 0.8 * sine)
    return np.asarray(np.clip(2.0 * sine * climb / (sine**2 - climb**2), *_FILL_SLOPE))


def tangents_along(grid: Floats, sigma_stations: float = 0.0) -> Floats:
    """Unit tangents (n, ..., 3) along the stations of a closed ring or grid, smoothed."""
    step = smoothed_round(np.roll(grid, -1, axis=0) - np.roll(grid, 1, axis=0), sigma_stations)
    return np.asarray(step / np.maximum(np.sqrt(dots(step, step)), 1e-12)[..., None])

"""Where the straps are anchored: lug frames on the outer side of the wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from scipy import ndimage

from ..hardware.allowance import Allowance
from ..hardware.lug_wall import HEIGHTS_MM, NOTHING_MM, LugWall, across_mm
from ..hardware.lugs import BAR_BOTTOM_MM, half_span, lowest_tip, lug_extent
from ..hardware.options import LugSettings
from ..mesh import Floats
from ..settings import optional_quantity, quantity, section
from .lugs_apart import LugRoom, chosen_together, meets_mm
from .shell import Shell

Placing = Literal["apart", "meeting", "together"]
_STEEP_DEG = 20.0  # a wall that leans less over the bed carries a lug on short fins
_STEP_MM = 3.0  # between places looked at
_AWAY_MM = 12.0  # how far along the line a lug may leave its place for a steeper wall
_DOWN_MM = 9.0  # and how far down the wall
_UP_MM = 3.0  # or up, on a short wall
_FIN_MM = 9.8  # height of the fins under the bar on an upright wall
_SPARE_MM = 4.0  # between their lower ends and the port
_APART_MM = 6.0  # between lugs beside each other; their fins may lean towards each other further down
# What stands against a place is a sum of shares; each is 1 at its scale. Common practice, no source.
_LEAN_SCALE_DEG = 1.0  # of lean beyond `_STEEP_DEG`
_AWAY_SCALE_MM = 2.0  # of distance from the wanted place
_FIN_SCALE_MM = 1.0 / 3.0  # of room that the fins lack
_LONG_SCALE_MM = 1.0  # of fins beyond `_LONG_MM`
_CROWD_SCALE_MM = 1.0 / 12.0  # of room between lugs: worse than any fin, for the straps would not go through
_TALL_MM = 30.0  # lugs that stand further apart in the print do not meet
_LOOK_CLOSER = 6  # places whose fins are laid out
_LOOK_AT_MOST = 36  # while the best of them meets another lug
_LONG_MM = 12.0  # fins that end no further under the middle of a lug are short
_THROUGH_MM = 25.0
_PATCH_MM = 8.0  # the wall's lean is a mean over about this distance


@dataclass(frozen=True)
class StrapSettings:
    """Strap anchors and their place."""

    upper_share: float = quantity(
        0.27, "1", 0.1, 0.45, "Upper lugs: share of the way round from nose to chin."
    )
    lower_share: float = quantity(
        0.70, "1", 0.5, 0.9, "Lower lugs: share of the way round from nose to chin."
    )
    up_the_wall_mm: float = quantity(
        12.0, "mm", 8.0, 30.0, "From the band's underside down the wall to the middle of a lug."
    )
    tension_n: float | None = optional_quantity(
        "N",
        0.5,
        30.0,
        5.0,
        "Mean pull of one strap end; automatic is the least that the prediction finds to hold the mask in 19 "
        "of 20 drawn cases, kept back where the skin would be pressed too hard.",
    )
    lug: LugSettings = section(LugSettings, "The lugs.")


@dataclass(frozen=True, eq=False)
class StrapPoint:
    """One anchor.

    Attributes
    ----------
    frame : 4x4 lug frame in the face frame: +Y up in the print and about the way the strap pulls, +Z level
        and off the body, origin on the wall.
    wall : the outer side under the lug, in its frame.
    station : index along the seal line.
    """

    frame: Floats
    wall: LugWall
    station: int


def strap_points(
    shell: Shell,
    settings: StrapSettings,
    down: Floats,
    allowance: Allowance,
    way: Placing = "apart",
) -> list[StrapPoint]:
    """Anchors of a shell, mirrored left and right, upper pair first.

    Near the wanted place the lugs of a pair stand where the wall is steep in the print.

    Parameters
    ----------
    shell : band and wall.
    settings : places.
    down : (3,) unit direction to the bed in the print: the port's axis.
    allowance : for the coating in the slot.
    way : "apart" places one pair after the other, where lugs whose fins meet further down look for other
        places; "meeting" lets them meet; "together" places all pairs at once.
    """
    count = len(shell.outer_side)
    pairs = settings.lug.count // 2
    shares = np.linspace(settings.upper_share, settings.lower_share, pairs) if pairs > 1 else [0.45]
    lug = (settings.lug, allowance)
    wall = _Wall(shell, down, half_span(*lug) + 0.5 * settings.lug.bar_mm)
    wanted = [int(round(share * count / 2.0)) for share in shares[:pairs]]
    apart = way == "apart"
    if way == "together":
        free = [wall.places(station, settings.up_the_wall_mm, ()) for station in wanted]
        return _together(wall, lug, free)
    points: list[StrapPoint] = []
    for station in wanted:
        near = wall.places(station, settings.up_the_wall_mm, points)
        near = near if apart else near[:_LOOK_CLOSER]
        points += _best_pair(wall, lug, near, points if apart else None)
    return points


_Lug = tuple[LugSettings, Allowance]


def _best_pair(
    wall: _Wall,
    lug: _Lug,
    near: Sequence[tuple[int, float, float]],
    taken: Sequence[StrapPoint] | None,
) -> list[StrapPoint]:
    """The pair that stands best of the first few places.

    Further ones are looked at while the best meets another lug.

    Parameters
    ----------
    lug : settings of the lugs, and the coating in their slots.
    near : stations, distances down the wall and what speaks against each, the likeliest first.
    taken : lugs that stand already; None where lugs may meet.
    """
    best: tuple[float, bool, list[StrapPoint]] | None = None
    for number, (place, way, off) in enumerate(near):
        if number >= _LOOK_CLOSER and best is not None and not best[1]:
            break
        pair = _pair(wall, lug, place, way)
        meets = 0.0 if taken is None else _meet_mm(lug, (*pair, *taken), len(pair))
        cost = round(_stands(wall, lug, pair) + off + meets / _CROWD_SCALE_MM, 3)
        if best is None or cost < best[0]:
            best = (cost, meets > 0.0, pair)
    return best[2] if best is not None else []


def _together(
    wall: _Wall, lug: _Lug, wanted: Sequence[Sequence[tuple[int, float, float]]]
) -> list[StrapPoint]:
    """Pairs at the places of each that stand best with those of the others; places as of `_Wall.places`.

    Of two pairs the left lug of one is held against both of the other: they are mirrored.
    """
    pairs = [[_pair(wall, lug, place, way) for place, way, _ in near] for near in wanted]
    rooms = [[_rooms(lug, pair) for pair in near] for near in pairs]
    costs = [
        np.array(
            [
                off + _stands(wall, lug, pair) + meets_mm(*room) / _CROWD_SCALE_MM
                for (_, _, off), pair, room in zip(near, tried, taken, strict=True)
            ]
        )
        for near, tried, taken in zip(wanted, pairs, rooms, strict=True)
    ]
    between = {
        (first, second): np.array(
            [[max(meets_mm(one[0], other) for other in two) for two in rooms[second]] for one in rooms[first]]
        )
        / _CROWD_SCALE_MM
        for first, second in combinations(range(len(rooms)), 2)
    }
    chosen = chosen_together([np.round(cost, 3) for cost in costs], between)
    return [point for near, place in zip(pairs, chosen, strict=True) for point in near[place]]


def _pair(wall: _Wall, lug: _Lug, station: int, way_mm: float) -> list[StrapPoint]:
    """A lug at a station and its mirror."""
    return [_point(wall, *lug, at, way_mm) for at in (station, len(wall.outer) - station)]


def _stands(wall: _Wall, lug: _Lug, pair: Sequence[StrapPoint]) -> float:
    """How badly the lugs of a pair stand, without unit, see `_Wall.lacks`."""
    return max(wall.lacks(point, lowest_tip(*lug, point.wall)) for point in pair)


def _rooms(lug: _Lug, points: Sequence[StrapPoint]) -> list[LugRoom]:
    return [LugRoom(point.frame, lug_extent(*lug, point.wall)) for point in points]


def _meet_mm(lug: _Lug, points: Sequence[StrapPoint], first: int | None = None) -> float:
    """How far the lugs, or the ``first`` ones and any others, run into each other at most, mm.

    Their fins may lean together.
    """
    rooms = _rooms(lug, points)
    pairs = [(a, b) for a, b in combinations(range(len(rooms)), 2) if first is None or a < first]
    return max((meets_mm(rooms[a], rooms[b]) for a, b in pairs), default=0.0)


class _Wall:
    """The outer side of the wall below the fill under the band, and how it leans."""

    def __init__(self, shell: Shell, down: Floats, half_width_mm: float) -> None:
        first = int(np.flatnonzero(shell.wall)[0])
        filled = shell.filled[:, first:]
        self.down, self._half = down, half_width_mm
        self.outer = shell.outer_side[:, first:]
        self.whole = shell.outer_side[:, shell.band_end :]  # with fillet and fill
        steps = np.linalg.norm(np.diff(self.outer, axis=1), axis=-1)
        self.walked = np.concatenate([np.zeros((len(steps), 1)), np.cumsum(steps, axis=1)], axis=1)
        # Places are measured from the end of the fill under the rim, over the width of a lug.
        ends = np.where(filled.any(axis=1), filled.shape[1] - np.argmax(filled[:, ::-1], axis=1), 0)
        ends = np.minimum(ends, filled.shape[1] - 1)
        self.spacing = np.linalg.norm(np.roll(self.outer, -1, axis=0) - self.outer, axis=-1)[:, :12].mean()
        starts = self.walked[np.arange(len(ends)), ends]
        width = 2 * int(half_width_mm / self.spacing) + 1
        self.starts = ndimage.maximum_filter1d(starts, width, mode="wrap")
        sigma = (_PATCH_MM / self.spacing, _PATCH_MM / steps.mean(), 0.0)
        smooth = ndimage.gaussian_filter(shell.normals[:, first:], sigma, mode=("wrap", "nearest", "nearest"))
        self.foot = self.outer[:, -1].mean(axis=0)  # the wall ends round this point in the port's boss
        self.normals = smooth / np.linalg.norm(smooth, axis=-1, keepdims=True)

    def at(self, grid: Floats, station: int, way_mm: float | Floats) -> Floats:
        """Values (..., 3) of a grid (n, k, 3) at distances (...) down the wall."""
        walked, way = self.walked[station], self.starts[station] + way_mm
        return np.stack([np.interp(way, walked, grid[station, :, axis]) for axis in range(3)], axis=-1)

    def places(
        self, wanted: int, way_mm: float, taken: Sequence[StrapPoint]
    ) -> list[tuple[int, float, float]]:
        """The places near the wanted one that suit both lugs of a pair best by the wall's lean there.

        Parameters
        ----------
        wanted : station.
        way_mm : wanted distance down the wall.
        taken : lugs that stand already.

        Returns
        -------
        Stations, distances down the wall, and what speaks against each whatever its fins, without unit:
        distance from the wanted place and what it lacks to other lugs, each in its scale.
        """
        count, reach = len(self.outer), int(_AWAY_MM / self.spacing)
        found = []
        step = max(int(_STEP_MM / self.spacing), 1)
        ways = np.arange(way_mm - _UP_MM, way_mm + _DOWN_MM + 0.1, _STEP_MM)
        for station in range(
            max(wanted - reach // step * step, 1), min(wanted + reach + 1, count // 2), step
        ):
            off = (abs(station - wanted) * self.spacing + np.abs(ways - way_mm)) / _AWAY_SCALE_MM
            pair = (station, count - station)
            off = (
                off + np.maximum(*(self._crowded(at, ways, taken) for at in pair)) + self._meeting(pair, ways)
            )
            cost = np.round(np.maximum(*(self._unfit(at, ways) for at in pair)) + off, 3)
            found += [
                (float(c), station, float(w), float(o)) for c, w, o in zip(cost, ways, off, strict=True)
            ]
        return [(station, way, off) for _, station, way, off in sorted(found)[:_LOOK_AT_MOST]]

    def _unfit(self, station: int, ways_mm: Floats) -> Floats:
        """How badly places (w,) suit a lug, without unit: lean, and room that its fins lack."""
        lean = np.arcsin(np.clip(self.at(self.normals, station, ways_mm) @ self.down, 0.0, 0.65))
        away = self.foot - self.at(self.outer, station, ways_mm)
        height = away @ self.down
        level = np.linalg.norm(away - height[:, None] * self.down, axis=1)
        radius = np.maximum(level, 1.5 * self._half)
        fall = radius - np.sqrt(radius**2 - self._half**2)  # of a round wall at the fins
        below = (_FIN_MM + fall) / (1.0 - np.tan(lean)) - BAR_BOTTOM_MM
        steep = np.maximum(np.degrees(lean) - _STEEP_DEG, 0.0)
        lacking = np.maximum(below + _SPARE_MM - height, 0.0)
        return np.asarray(steep / _LEAN_SCALE_DEG + lacking / _FIN_SCALE_MM)

    def _crowded(self, station: int, ways_mm: Floats, taken: Sequence[StrapPoint]) -> Floats:
        """How badly lugs at places (w,) stand in the way of others, without unit."""
        places, lacking = self.at(self.outer, station, ways_mm), np.zeros(len(ways_mm))
        for other in taken:
            across, along, out = ((places - other.frame[:3, 3]) @ other.frame[:3, :3]).T
            apart = np.where(np.abs(along) < _TALL_MM, np.hypot(across, out), np.inf)
            lacking = np.maximum(lacking, 2.0 * self._half + _APART_MM - apart)
        return np.asarray(lacking / _CROWD_SCALE_MM)

    def _meeting(self, pair: tuple[int, int], ways_mm: Floats) -> Floats:
        """How badly the two lugs of a pair at places (w,) stand in each other's way, without unit."""
        one, other = (self.at(self.outer, station, ways_mm) for station in pair)
        apart = np.linalg.norm(one - other, axis=1)
        return np.asarray(np.maximum(2.0 * self._half + _APART_MM - apart, 0.0) / _CROWD_SCALE_MM)

    def lacks(self, point: StrapPoint, tip_mm: float) -> float:
        """How badly a lug stands whose fins end at a height, without unit: long, or near the port."""
        height = float((self.foot - point.frame[:3, 3]) @ self.down)
        too_long, lacking = max(-tip_mm - _LONG_MM, 0.0), max(_SPARE_MM - tip_mm - height, 0.0)
        return too_long / _LONG_SCALE_MM + lacking / _FIN_SCALE_MM


def _point(wall: _Wall, lug: LugSettings, allowance: Allowance, station: int, way_mm: float) -> StrapPoint:
    origin, normal = wall.at(wall.outer, station, way_mm), wall.at(wall.normals, station, way_mm)
    off = normal - (normal @ wall.down) * wall.down
    off = off / np.linalg.norm(off)
    frame = np.eye(4)
    frame[:3, :3] = np.stack([np.cross(-wall.down, off), -wall.down, off], axis=1)
    frame[:3, 3] = origin
    under = _under(wall, frame, station, across_mm(half_span(lug, allowance), lug.bar_mm))
    return StrapPoint(frame, under, station)


def _under(wall: _Wall, frame: Floats, station: int, across: Floats) -> LugWall:
    """The outer side under a lug at places across it, from the rows of the grid that pass there."""
    count = len(wall.outer)
    near = (station + np.arange(-(count // 6), count // 6 + 1)) % count
    local = (wall.whole[near] - frame[:3, 3]) @ frame[:3, :3]
    facing = np.abs(local[..., 2]) < _THROUGH_MM  # the far side of a narrow body is not meant
    x = np.where(facing, local[..., 0], np.inf)
    order = np.argsort(x, axis=0, kind="stable")
    x, y, z = (np.take_along_axis(part, order, axis=0) for part in (x, local[..., 1], local[..., 2]))
    last, rows = facing.sum(axis=0) - 1, np.arange(local.shape[1])
    found = np.full((len(across), len(rows), 2), np.nan)
    wanted = across[:, None]
    high = (x < wanted[:, None]).sum(axis=1)  # of each place across, in each row: the first point beyond it
    good = (last > 0) & (x[0] <= wanted) & (high <= last)
    place, row = np.nonzero(good)
    high = np.maximum(high[good], 1)
    low_x, high_x = x[high - 1, row], x[high, row]
    share = (across[place] - low_x) / np.where(high_x > low_x, high_x - low_x, 1.0)
    for axis, values in enumerate((y, z)):
        low = values[high - 1, row]
        found[place, row, axis] = low + share * (values[high, row] - low)
    return LugWall(tuple(_column(places) for places in found))


def _column(places: Floats) -> tuple[float, ...]:
    """Z at the tabulated heights from points (k, 2) down the wall: level above them, nothing below."""
    known = places[np.isfinite(places).all(axis=1)]
    known = known[np.argsort(known[:, 0], kind="stable")]
    if len(known) == 0:
        return (NOTHING_MM,) * len(HEIGHTS_MM)
    z = np.interp(HEIGHTS_MM, known[:, 0], known[:, 1], left=NOTHING_MM)
    return tuple(np.round(z, 7).tolist())

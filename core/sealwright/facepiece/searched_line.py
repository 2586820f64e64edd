"""The best seal line on trusted skin: a search on the face image, where fixed distances alone lead off it.

A closed path over a lattice of rays round the mouth: near the proposal, which runs over bone, smooth, with
room for the band on scanned skin, away from lips, nostrils and eyes. What the lattice cannot know (the band
as it is laid, square to the line) is looked at on the drawn line; the search goes on with what was lacking.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ..mesh import Bools, Floats
from .band_room import MARGIN_MM, lacking_mm, narrowed, room_along
from .closed_curve import closed_spline, smoothed_round
from .closed_path import Rows, closed_path
from .contact_band import looked_under
from .line_features import TooNearTo, too_near
from .seal_line import SealLine, line_through
from .skin_lattice import RAYS, SkinLattice

STATIONS = 96  # as many whatever the quality, so that preview and final agree
_CONTROL_EVERY = 3  # rays from one control point to the next
_EVENED_RAYS = 1.2  # the steps of the lattice are smoothed away; further where the band folds
_SMOOTHER = 1.3
_PASSES = 8
_FINER_MM = 0.5  # by so much a band with more stations may lie elsewhere
_FURTHER_MM = 0.4  # asked on top of what was lacking
_BESIDE = 2  # rays on either side that it is asked on too
_WEAVE_MM = 1.0  # asked on top of the distance from lips, nostrils and eyes, and again where that is not kept

# Costs on one ray, over that of a way of 4 mm from the proposal.
_AWAY_MM = 4.0
_BEND = 0.35  # of a bend by one place from ray to ray
_HARD = 40.0  # where all of the band stands on skin that it cannot follow
_NARROW = 60.0  # of a band without width
_SHUNNED, _SHUN_MM = 100.0, 10.0  # where the band folded in a pass before, less in the neighbourhood
_NO_ROOM = 1e4  # where the band cannot be; a tenth of it more for each millimetre that is lacking
_NEAR = 1e6  # too near to lips, nostrils or eyes


@dataclass(frozen=True, eq=False)
class Wish:
    """What a search is asked for.

    Attributes
    ----------
    start : (k, 3) control points in mm that the line keeps near to.
    under_chin : whether they pass behind the menton.
    smoothing_mm : smoothing length along the line.
    narrow : whether the band may be narrowed down to `Reach.least`.
    skin : (h, w) pixels that count as skin.
    """

    start: Floats
    under_chin: bool
    smoothing_mm: float
    narrow: bool
    skin: Bools


@dataclass(frozen=True, eq=False)
class Searched:
    """What a search found.

    Attributes
    ----------
    line : the line; where there is none, the one that lacks least.
    moved_mm : (t,) how far it lies from the start on each ray.
    lacking : (n,) stations that lack skin.
    near : the landmark that it is too near to; None for none.
    folds : (n,) stations at which the band folds over itself.
    """

    line: SealLine
    moved_mm: Floats
    lacking: Bools
    near: TooNearTo | None
    folds: Bools

    @property
    def found(self) -> bool:
        """Whether the line can be used."""
        return not (self.lacking.any() or self.near or self.folds.any())

    @property
    def lacks(self) -> tuple[bool, int, bool, int]:
        """The less, the nearer to a line that can be used."""
        return not self.found, int(self.lacking.sum()), self.near is not None, int(self.folds.sum())


@dataclass(eq=False)
class _Asked:
    """What the passes ask of the lattice: more where the drawn line was lacking."""

    room_mm: Floats
    shunned: Floats
    bend: float = _BEND
    weave_mm: float = _WEAVE_MM
    evened_rays: float = _EVENED_RAYS

    def less_bent(self, lattice: SkinLattice, folds: Floats) -> None:
        """Ask for a smoother line, further from places (k, 3) where the band folded."""
        away, _ = cKDTree(folds).query(lattice.points)
        self.shunned = self.shunned + _SHUNNED * np.clip(1.0 - away / _SHUN_MM, 0.0, None)
        self.bend *= 2.0
        self.evened_rays *= _SMOOTHER


def searched_line(lattice: SkinLattice, wish: Wish) -> Searched:
    """The best closed line on trusted skin.

    Parameters
    ----------
    lattice : the skin round the mouth.
    wish : what is asked for.

    Raises
    ------
    SealLineCrossing : a line through the found control points crosses itself.
    """
    least = lattice.reach.least.both if wish.narrow else lattice.reach.both
    away, room = _away(lattice, wish.start), lattice.room(wish.skin)
    asked = _Asked(np.repeat([least], RAYS, axis=0), np.zeros(away.shape))
    tried: list[Searched] = []
    for _ in range(_PASSES):
        rows = closed_path(_cost(lattice, away, room, asked), asked.bend)
        line = _drawn(lattice, rows, wish, asked.evened_rays)
        there = room_along(lattice.face, line, lattice.reach, wish.skin, MARGIN_MM + _FINER_MM)
        lack = lacking_mm(there, least)
        as_wide = narrowed(line, there / lattice.reach.both, lattice.reach) if wish.narrow else line
        folds = looked_under(lattice.face, as_wide, lattice.reach).folded
        moved = np.abs(away[np.arange(RAYS), rows])
        near = too_near(line.points, lattice.landmarks)
        tried.append(Searched(line, moved, lack.max(axis=1) > 0.0, near, folds))
        if tried[-1].found or (room[np.arange(RAYS), rows] < least).any():
            break
        asked.room_mm = np.maximum(asked.room_mm, least) + _on_rays(lattice, line, lack)
        if folds.any():
            asked.less_bent(lattice, line.points[folds])
        asked.weave_mm += _WEAVE_MM if near else 0.0
    return min(tried, key=lambda one: one.lacks)


def _away(lattice: SkinLattice, start: Floats) -> Floats:
    """Signed way (t, j) over the skin from the line through the start points to each place, mm."""
    pq, _ = lattice.face.chart.place_of(start)
    curve = closed_spline(pq, 8 * RAYS) - lattice.centre
    angle = np.mod(np.arctan2(curve[:, 0], curve[:, 1]), 2.0 * np.pi)
    order = np.argsort(angle, kind="stable")
    way = np.hypot(curve[:, 0], curve[:, 1])
    at = np.interp(lattice.angles, angle[order], way[order], period=2.0 * np.pi)
    there = [np.interp(at[ray], lattice.ways, lattice.along[ray]) for ray in range(RAYS)]
    return np.asarray(lattice.along - np.array(there)[:, None])


def _cost(lattice: SkinLattice, away: Floats, room: Floats, asked: _Asked) -> Floats:
    """Cost (t, j) of each place."""
    lack = np.maximum(asked.room_mm[:, None] - room, 0.0).sum(axis=-1)
    narrow = np.maximum(1.0 - room / lattice.reach.both, 0.0).sum(axis=-1)
    cost = (away / _AWAY_MM) ** 2 + _HARD * lattice.hard + _NARROW * narrow
    cost = cost + np.where(lack > 0.0, _NO_ROOM * (1.0 + 0.1 * lack), 0.0)
    return np.asarray(cost + asked.shunned + _NEAR * lattice.near_feature(asked.weave_mm))


def _drawn(lattice: SkinLattice, rows: Rows, wish: Wish, evened_rays: float) -> SealLine:
    """The smooth line on the skin through the places of a path."""
    way = smoothed_round(lattice.ways[rows], evened_rays)
    ray = np.stack([np.sin(lattice.angles), np.cos(lattice.angles)], axis=-1)
    control = lattice.face.skin_at(lattice.centre + way[:, None] * ray)[::_CONTROL_EVERY]
    return line_through(lattice.face, control, STATIONS, wish.smoothing_mm, wish.under_chin)


def _on_rays(lattice: SkinLattice, line: SealLine, lack: Floats) -> Floats:
    """What stations lack (n, 2), with some more, on the rays (t, 2) beside them."""
    here = line.pq - lattice.centre
    turn = np.arctan2(here[:, 0], here[:, 1]) / (2.0 * np.pi) * RAYS
    more = np.zeros((RAYS, 2))
    np.maximum.at(
        more, np.mod(np.rint(turn).astype(np.int64), RAYS), np.where(lack > 0, lack + _FURTHER_MM, 0.0)
    )
    return np.asarray(ndimage.maximum_filter1d(more, 2 * _BESIDE + 1, axis=0, mode="wrap"))

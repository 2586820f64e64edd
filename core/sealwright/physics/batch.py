"""Many masks in balance at once: the six motions of each draw, by Newton steps on arrays.

The same springs and energy as `equilibrium.solve_equilibrium` with the hold against sliding of `contact`:
seated
gently, then held sideways where it is pressed. Draws share the shape of the band and differ in gap,
stiffness and
load. Single precision in the large arrays; the unbalanced load left is stated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats
from .contact import GRIP_KPA, SEAT_N, SEAT_SHEAR
from .foundation import KPA
from .patch import ContactPatch

Singles: TypeAlias = NDArray[np.float32]

UPPER = np.triu_indices(6)
_STEPS = 60
_ENOUGH = 2e-4  # unbalanced share of the load: single precision sums over some thousand points reach 1e-5
_WORTH_KEEPING = 0.7  # share of draws still going, below which the others are taken out
_FARTHEST_MM = 40.0  # beyond it a mask has left its place


@dataclass(frozen=True, eq=False)
class BatchBand:
    """How the points of a band move with the mask, ready for many balances.

    Attributes
    ----------
    opening : (n, 6) single precision, along the normal.
    squares, sides : (n, 21) upper triangles of the stiffness of one spring, along the normal and in the
    plane.
    areas : (n,) mm2.
    reach_mm : length by which turns are measured.
    """

    opening: Singles
    squares: Singles
    sides: Singles
    areas: Singles
    reach_mm: float


def batch_band(patch: ContactPatch) -> BatchBand:
    """Prepare a band for many balances."""
    opening, moving = patch.contact_jacobians
    squares = opening[:, :, None] * opening[:, None, :]
    sides = np.einsum("nik,nil->nkl", moving, moving) - squares
    return BatchBand(
        opening.astype(np.float32),
        squares[:, UPPER[0], UPPER[1]].astype(np.float32),
        sides[:, UPPER[0], UPPER[1]].astype(np.float32),
        patch.areas.astype(np.float32),
        patch.reach_mm,
    )


@dataclass(frozen=True, eq=False)
class Springs:
    """Springs of a batch.

    Attributes
    ----------
    gap : (m, n) mm unloaded.
    normal : (m, n) N/mm3.
    shear : (m, 1) stiffness against sliding, as a share of ``normal``.
    """

    gap: Singles
    normal: Singles
    shear: Singles

    def some(self, rows: Bools | slice) -> Springs:
        """The springs of some of the draws."""
        return Springs(self.gap[rows], self.normal[rows], self.shear[rows])


@dataclass(frozen=True, eq=False)
class Balances:
    """Masks in balance.

    Attributes
    ----------
    motion : (m, 6) shifts in mm and turns times reach.
    gap : (m, n) mm, negative where pressed in.
    sideways_n : (m,) what the skin holds along itself (force, or moment over reach).
    good : (m,) whether a balance was found.
    """

    motion: Floats
    gap: Singles
    sideways_n: Floats
    good: Bools


def gap_at(band: BatchBand, springs: Springs, motion: Floats) -> Singles:
    """Gaps (m, n), mm, of masks moved by (m, 6)."""
    gap = motion.astype(np.float32) @ band.opening.T
    gap += springs.gap
    return np.asarray(gap)


def seat(band: BatchBand, springs: Springs, load: Floats, near: Floats | None = None) -> Floats:
    """Where masks come to rest when offered gently along their load (m, 6); motions (m, 6).

    Parameters
    ----------
    near : (m, 6) motions to look from; where they are nan, or None, it is where the masks first touch.
    """
    size = np.linalg.norm(load[:, :3], axis=1)
    way = load[:, :3] / np.maximum(size, 1e-9)[:, None]
    closing = -(way.astype(np.float32) @ band.opening[:, :3].T)
    travel = np.full_like(closing, np.inf)
    np.divide(springs.gap, closing, out=travel, where=closing > 0.1)
    touch = np.zeros_like(load)
    touch[:, :3] = np.clip(travel.min(axis=1), 0.0, _FARTHEST_MM)[:, None] * way
    gentle = load * (np.minimum(1.0, SEAT_N / np.maximum(size, 1e-9)))[:, None]
    loose = Springs(springs.gap, springs.normal, np.float32(SEAT_SHEAR) * springs.shear)
    start = touch if near is None else np.where(np.isnan(near), touch, near)
    return balance(band, loose, gentle, start, touch, gripping=False).motion


def balance(
    band: BatchBand, springs: Springs, load: Floats, start: Floats, anchor: Floats, *, gripping: bool = True
) -> Balances:
    """Balance every draw under its load.

    Parameters
    ----------
    band, springs : m draws of n points.
    load : (m, 6) N, moments over reach.
    start : (m, 6) motions to begin from.
    anchor : (m, 6) motions at which the skin does not yet hold sideways.
    gripping : the hold against sliding grows with the pressure, up to `contact.GRIP_KPA`.
    """
    count = len(load)
    motion, sideways = start.copy(), np.zeros(count)
    gap = np.empty_like(springs.gap)
    good, rows, going = np.zeros(count, dtype=bool), np.arange(count), np.ones(count, dtype=bool)
    size = np.maximum(np.linalg.norm(load, axis=1), 1e-6)
    work = _Work(band, springs, motion, gripping)
    for step in range(_STEPS):
        side = work.side()
        hold = np.einsum("mij,mj->mi", side, motion[rows] - anchor[rows])
        unbalanced = hold - work.push() - load[rows]
        done = np.abs(unbalanced).max(axis=1) <= _ENOUGH * size[rows]
        gone = np.abs(motion[rows]).max(axis=1) > _FARTHEST_MM
        leaving = going & (done | gone | (step == _STEPS - 1))
        if leaving.any():
            left = rows[leaving]
            gap[left], good[left] = work.gap[leaving], done[leaving]
            sideways[left] = np.maximum(
                np.linalg.norm(hold[leaving, :3], axis=1), np.linalg.norm(hold[leaving, 3:], axis=1)
            )
            going &= ~leaving
            if not going.any():
                break
            if going.mean() < _WORTH_KEEPING:
                work.keep(going)
                rows, side, unbalanced = rows[going], side[going], unbalanced[going]
                going = np.ones(len(rows), dtype=bool)
        direction = _newton(work.hard() + side, unbalanced)
        direction[~going] = 0.0
        length = work.length(side, unbalanced, direction)
        motion[rows] += length[:, None] * direction
        work.move(motion[rows], length)
    return Balances(motion, gap, sideways, good)


class _Work:
    """Springs of the draws that are not in balance yet, at their present motions.

    Passes over the large arrays are what it costs: each is made once, and kept for the next step.
    """

    def __init__(self, band: BatchBand, springs: Springs, motion: Floats, gripping: bool) -> None:
        self.band, self.springs = band, springs
        self.weight = springs.normal * band.areas
        self.grip = springs.normal * np.float32(-1.0 / (GRIP_KPA * KPA)) if gripping else None
        self.gap = gap_at(band, springs, motion)
        self.sunk = np.minimum(self.gap, np.float32(0.0))
        self.force = self.sunk * self.weight
        self.next_gap = self.next_sunk = self.gap

    def keep(self, rows: Bools) -> None:
        """Go on with some of the draws."""
        self.springs, self.weight = self.springs.some(rows), self.weight[rows]
        self.grip = None if self.grip is None else self.grip[rows]
        self.gap, self.sunk = self.gap[rows], self.sunk[rows]

    def push(self) -> Floats:
        """What the springs push back with, (m, 6)."""
        return np.asarray(-(self.force @ self.band.opening).astype(np.float64))

    def side(self) -> Floats:
        """Stiffness (m, 6, 6) across the normals: all of it, or what the pressure grips."""
        held = self.weight
        if self.grip is not None:
            held = self.force * self.grip  # pressure / GRIP_KPA of the weight, and no more than all of it
            np.minimum(held, self.weight, out=held)
        return full((held @ self.band.sides) * self.springs.shear)

    def hard(self) -> Floats:
        """Stiffness (m, 6, 6) along the normals, of the springs that are pressed."""
        return full((self.weight * (self.gap < 0.0)) @ self.band.squares)

    def length(self, side: Floats, unbalanced: Floats, direction: Floats) -> Floats:
        """How far to go along each step: all of it, or where the slope of the energy would pass zero."""
        rate = direction.astype(np.float32) @ self.band.opening.T
        self.next_gap = self.gap + rate
        self.next_sunk = np.minimum(self.next_gap, np.float32(0.0))
        more = self.next_sunk - self.sunk
        more *= self.weight
        slope = np.einsum("mi,mi->m", unbalanced, direction)
        after = slope + np.einsum("mn,mn->m", more, rate)
        after += np.einsum("mi,mij,mj->m", direction, side, direction)
        over = after > 0.3 * np.abs(slope)
        return np.where(over, -slope / np.maximum(after - slope, 1e-30), 1.0)

    def move(self, motion: Floats, length: Floats) -> None:
        """Go the steps whose length was asked last, to motions (m, 6)."""
        self.gap, self.sunk = self.next_gap, self.next_sunk
        short = length != 1.0
        if short.any():
            self.gap[short] = gap_at(self.band, self.springs.some(short), motion[short])
            self.sunk[short] = np.minimum(self.gap[short], np.float32(0.0))
        self.force = self.sunk * self.weight


def full(upper: Singles | Floats) -> Floats:
    """Symmetric (m, 6, 6) from upper triangles (m, 21)."""
    whole = np.zeros((len(upper), 6, 6))
    whole[:, UPPER[0], UPPER[1]] = upper
    whole[:, UPPER[1], UPPER[0]] = upper
    return whole


def _newton(stiff: Floats, unbalanced: Floats) -> Floats:
    """Newton step of the active springs, with a little stiffness where nothing holds."""
    trace = np.einsum("mii->m", stiff)
    stiff = stiff + (1e-6 * trace + 1e-3)[:, None, None] * np.eye(6)
    step = -np.linalg.solve(stiff, unbalanced[:, :, None])[:, :, 0]
    # Few springs active: a long step is cut, the next ones see more of them.
    longest = np.abs(step).max(axis=1)
    return np.asarray(step * np.minimum(1.0, 5.0 / np.maximum(longest, 1e-12))[:, None])

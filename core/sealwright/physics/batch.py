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

_UPPER = np.triu_indices(6)
_STEPS = 60
_ENOUGH = 2e-4  # unbalanced share of the load: single precision sums over some thousand points reach 1e-5
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
        squares[:, _UPPER[0], _UPPER[1]].astype(np.float32),
        sides[:, _UPPER[0], _UPPER[1]].astype(np.float32),
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


def seat(band: BatchBand, springs: Springs, load: Floats) -> Floats:
    """Where masks come to rest when offered gently along their load (m, 6); motions (m, 6)."""
    size = np.linalg.norm(load[:, :3], axis=1)
    way = load[:, :3] / np.maximum(size, 1e-9)[:, None]
    closing = -(band.opening[:, :3].astype(np.float64) @ way.T).T
    near = closing > 0.1
    travel = np.where(near, springs.gap / np.where(near, closing, 1.0), np.inf).min(axis=1)
    start = np.zeros_like(load)
    start[:, :3] = np.clip(travel, 0.0, _FARTHEST_MM)[:, None] * way
    gentle = load * (np.minimum(1.0, SEAT_N / np.maximum(size, 1e-9)))[:, None]
    loose = Springs(springs.gap, springs.normal, np.float32(SEAT_SHEAR) * springs.shear)
    return balance(band, loose, gentle, start, start, gripping=False).motion


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
    good, left = np.zeros(count, dtype=bool), np.arange(count)
    size = np.maximum(np.linalg.norm(load, axis=1), 1e-6)
    work = springs
    for step in range(_STEPS):
        state = _state(band, work, motion[left], gripping)
        hold = np.einsum("mij,mj->mi", state.side, motion[left] - anchor[left])
        unbalanced = hold - state.push - load[left]
        done = np.abs(unbalanced).max(axis=1) <= _ENOUGH * size[left]
        gone = np.abs(motion[left]).max(axis=1) > _FARTHEST_MM
        leaving = done | gone | (step == _STEPS - 1)
        if leaving.any():
            rows = left[leaving]
            gap[rows], good[rows] = state.gap[leaving], done[leaving]
            sideways[rows] = np.maximum(
                np.linalg.norm(hold[leaving, :3], axis=1), np.linalg.norm(hold[leaving, 3:], axis=1)
            )
            stay = ~leaving
            left = left[stay]
            if not len(left):
                break
            work = Springs(work.gap[stay], work.normal[stay], work.shear[stay])
            state, unbalanced = state.kept(stay), unbalanced[stay]
        direction = _newton(state, unbalanced)
        motion[left] += _length(band, work, state, unbalanced, direction)[:, None] * direction
    return Balances(motion, gap, sideways, good)


@dataclass(frozen=True, eq=False)
class _State:
    """Springs of a batch at a motion: gaps, stiffness (m, 6, 6) along and across the normals, push (m, 6)."""

    gap: Singles
    hard: Floats
    side: Floats
    push: Floats

    def kept(self, rows: Bools) -> _State:
        """The state of some of the cases."""
        return _State(self.gap[rows], self.hard[rows], self.side[rows], self.push[rows])


def _state(band: BatchBand, springs: Springs, motion: Floats, gripping: bool) -> _State:
    gap = springs.gap + motion.astype(np.float32) @ band.opening.T
    weight = springs.normal * band.areas
    pressed = np.maximum(-gap, np.float32(0.0))
    push = (pressed * weight) @ band.opening
    active = np.where(gap < 0.0, weight, np.float32(0.0))
    if gripping:
        grip = np.minimum(pressed * springs.normal * np.float32(1.0 / (GRIP_KPA * KPA)), np.float32(1.0))
        side = (grip * weight * springs.shear) @ band.sides
    else:
        side = (weight * springs.shear) @ band.sides
    return _State(gap, _full(active @ band.squares), _full(side), push.astype(np.float64))


def _full(upper: Singles) -> Floats:
    """Symmetric (m, 6, 6) from upper triangles (m, 21)."""
    whole = np.zeros((len(upper), 6, 6))
    whole[:, _UPPER[0], _UPPER[1]] = upper
    whole[:, _UPPER[1], _UPPER[0]] = upper
    return whole


def _newton(state: _State, unbalanced: Floats) -> Floats:
    """Newton step of the active springs, with a little stiffness where nothing holds."""
    stiff = state.hard + state.side
    trace = np.einsum("mii->m", stiff)
    stiff = stiff + (1e-6 * trace + 1e-3)[:, None, None] * np.eye(6)
    step = -np.linalg.solve(stiff, unbalanced[:, :, None])[:, :, 0]
    # Few springs active: a long step is cut, the next ones see more of them.
    longest = np.abs(step).max(axis=1)
    return np.asarray(step * np.minimum(1.0, 5.0 / np.maximum(longest, 1e-12))[:, None])


def _length(
    band: BatchBand, springs: Springs, state: _State, unbalanced: Floats, direction: Floats
) -> Floats:
    """How far to go along each step: all of it, or where the slope of the energy would pass through zero."""
    rate = direction.astype(np.float32) @ band.opening.T
    slope = np.einsum("mi,mi->m", unbalanced, direction)
    pressed = np.maximum(-(state.gap + rate), np.float32(0.0)) - np.maximum(-state.gap, np.float32(0.0))
    springy = -np.einsum("mn,mn->m", pressed * springs.normal, rate * band.areas)
    after = slope + springy + np.einsum("mi,mij,mj->m", direction, state.side, direction)
    over = after > 0.3 * np.abs(slope)
    return np.where(over, -slope / np.maximum(after - slope, 1e-30), 1.0)

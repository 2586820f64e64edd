"""Balances of many draws in double precision, and how anything made of them follows the gaps (adjoint).

The same springs, hold and seat as `batch`, whose answer is the start. Double precision, because a gradient is
only as good as its balance. Adjoint of an implicit equation: any text on shape optimisation; from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..mesh import Bools, Floats
from .batch import UPPER, full
from .contact import GRIP_KPA, SEAT_N, SEAT_SHEAR
from .foundation import KPA
from .patch import ContactPatch

_STEPS, _HALVINGS = 12, 3
_ENOUGH = 1e-10  # unbalanced share of the load
_LONGEST_MM = 2.0  # of one step: the set of pressed points is looked at again before more


@dataclass(frozen=True, eq=False)
class Springs:
    """Springs of m draws under n points.

    Attributes
    ----------
    opening : (n, 6) as `ContactPatch.contact_jacobians`.
    sideways : (n * 6, 6) stiffness of one spring of 1 N/mm in the plane.
    squares, sides : (n, 21) upper triangles of that along the normal, and in the plane.
    weight : (m, n) N/mm along the normal.
    pressed : (m, n) share of the whole hold against sliding that a millimetre of pressing brings.
    shear : (m, 1) stiffness against sliding, as a share of ``weight``.
    """

    opening: Floats
    sideways: Floats
    squares: Floats
    sides: Floats
    weight: Floats
    pressed: Floats
    shear: Floats

    def along(self, motion: Floats) -> Floats:
        """Forces (m, n, 6) against motions (m, 6), sideways, of a spring of 1 N/mm at every point."""
        return np.asarray((motion @ self.sideways.T).reshape(len(motion), -1, 6))


def springs_of(patch: ContactPatch, normal: Floats, shear: Floats) -> Springs:
    """Springs under a band.

    Parameters
    ----------
    patch : the band.
    normal, shear : (m, n) N/mm3 and (m, 1), as in `batch.Springs`.
    """
    opening, moving = patch.contact_jacobians
    squares = opening[:, :, None] * opening[:, None, :]
    sides = np.einsum("nik,nil->nkl", moving, moving) - squares
    stiff = np.asarray(normal, dtype=np.float64)
    return Springs(
        opening,
        sides.reshape(-1, 6),
        squares[:, UPPER[0], UPPER[1]],
        sides[:, UPPER[0], UPPER[1]],
        stiff * patch.areas,
        stiff / (GRIP_KPA * KPA),
        np.asarray(shear, dtype=np.float64),
    )


@dataclass(frozen=True, eq=False)
class Balance:
    """Masks in balance.

    Attributes
    ----------
    motion : (m, 6).
    gap : (m, n) mm after it; negative where pressed.
    held : (m, 6, 6) stiffness sideways.
    slope : (m, 6, 6) change of the unbalanced load with the motion.
    gripped : (m, n, 6) change of the sideways hold with the gap of each point.
    good : (m,) a balance was found.
    """

    motion: Floats
    gap: Floats
    held: Floats
    slope: Floats
    gripped: Floats
    good: Bools


def balanced(
    springs: Springs, gap: Floats, load: Floats, anchor: Floats, start: Floats, *, gripping: bool = True
) -> Balance:
    """Balance every draw, by Newton steps from a start near it.

    Parameters
    ----------
    springs : of m draws.
    gap : (m, n) mm, unloaded.
    load, anchor, start : (m, 6) as in `batch.balance`.
    gripping : the hold against sliding grows with the pressure.
    """
    motion = start.copy()
    size = np.maximum(np.linalg.norm(load, axis=1), 1e-9)
    left, state = _unbalanced(springs, gap, load, anchor, motion, gripping)
    for _ in range(_STEPS):
        far = np.abs(left).max(axis=1) > _ENOUGH * size
        if not far.any():
            break
        step = -np.linalg.solve(state.slope + 1e-12 * np.eye(6), left[..., None])[..., 0] * far[:, None]
        longest = np.abs(step).max(axis=1)
        step *= np.minimum(1.0, _LONGEST_MM / np.maximum(longest, 1e-12))[:, None]
        for _ in range(_HALVINGS):
            tried, after = _unbalanced(springs, gap, load, anchor, motion + step, gripping)
            worse = np.linalg.norm(tried, axis=1) > np.linalg.norm(left, axis=1)
            if not worse.any():
                break
            step[worse] *= 0.5
        motion, left, state = motion + step, tried, after
        if worse.any():
            left, state = _unbalanced(springs, gap, load, anchor, motion, gripping)
    good = np.abs(left).max(axis=1) <= 1e-6 * size
    return Balance(state.motion, state.gap, state.held, state.slope, state.gripped, good)


def _unbalanced(
    springs: Springs, gap: Floats, load: Floats, anchor: Floats, motion: Floats, gripping: bool
) -> tuple[Floats, Balance]:
    """Load (m, 6) that is not balanced at a motion, and everything that its slope takes."""
    at = gap + motion @ springs.opening.T
    sunk = np.minimum(at, 0.0)
    sideways, gripped = springs.shear * springs.weight, np.zeros(0)
    hold = sideways
    if gripping:
        share = np.minimum(-springs.pressed * sunk, 1.0)
        hold = sideways * share
        rate = np.where((at < 0.0) & (share < 1.0), -springs.pressed * sideways, 0.0)
        gripped = rate[..., None] * springs.along(motion - anchor)
    held = full(hold @ springs.sides)
    slope = held + full((springs.weight * (at < 0.0)) @ springs.squares)
    if gripping:
        slope = slope + np.swapaxes(gripped, 1, 2) @ springs.opening
    left = np.einsum("mkl,ml->mk", held, motion - anchor) + (springs.weight * sunk) @ springs.opening - load
    return left, Balance(motion, at, held, slope, gripped, np.ones(len(at), dtype=bool))


def back_through(springs: Springs, state: Balance, wanted: Floats) -> tuple[Floats, Floats]:
    """What a number made of the gaps in balance owes to the unloaded gaps (m, n) and to the anchor (m, 6).

    Parameters
    ----------
    springs, state : m draws in balance.
    wanted : (m, n) slope of the number with each gap in balance.
    """
    owed = wanted @ springs.opening
    turned = np.linalg.solve(np.swapaxes(state.slope, 1, 2) + 1e-12 * np.eye(6), owed[..., None])[..., 0]
    pushed = np.where(state.gap < 0.0, springs.weight, 0.0) * (turned @ springs.opening.T)
    if state.gripped.size:
        pushed = pushed + np.einsum("mnk,mk->mn", state.gripped, turned)
    return wanted - pushed, np.einsum("mlk,ml->mk", state.held, turned)


@dataclass(frozen=True, eq=False)
class Seat:
    """Where masks come to rest when offered gently, as `batch.seat` does it.

    Attributes
    ----------
    state : the gentle balance, whose motion is the seat.
    springs : with the little hold that they glide by.
    first : (m,) the point that each touches first.
    way : (m, 3) unit direction of the pull.
    closing : (m,) how fast that point comes nearer along it; 0 where the mask is taken as it is offered.
    """

    state: Balance
    springs: Springs
    first: np.ndarray
    way: Floats
    closing: Floats


def seated(springs: Springs, gap: Floats, load: Floats, start: Floats) -> Seat:
    """Seat every draw; shapes as in `balanced`, with the whole load of which a little is taken."""
    size = np.linalg.norm(load[:, :3], axis=1)
    way = load[:, :3] / np.maximum(size, 1e-9)[:, None]
    closing = -(way @ springs.opening[:, :3].T)
    travel = np.full_like(closing, np.inf)
    np.divide(gap, closing, out=travel, where=closing > 0.1)
    first, rows = travel.argmin(axis=1), np.arange(len(gap))
    touch = np.zeros_like(load)
    touch[:, :3] = np.maximum(travel[rows, first], 0.0)[:, None] * way
    moves = np.where(travel[rows, first] > 0.0, closing[rows, first], 0.0)
    gentle = load * np.minimum(1.0, SEAT_N / np.maximum(size, 1e-9))[:, None]
    loose = replace(springs, shear=SEAT_SHEAR * springs.shear)
    state = balanced(loose, gap, gentle, touch, start, gripping=False)
    return Seat(state, loose, first, way, moves)


def back_to_gaps(seat: Seat, owed: Floats) -> Floats:
    """What a number that owes (m, 6) to the seat owes to the unloaded gaps, (m, n)."""
    turned = np.linalg.solve(np.swapaxes(seat.state.slope, 1, 2) + 1e-12 * np.eye(6), owed[..., None])[..., 0]
    pressed = np.where(seat.state.gap < 0.0, seat.springs.weight, 0.0)
    gaps = -pressed * (turned @ seat.springs.opening.T)
    touch = np.einsum("mlk,ml->mk", seat.state.held, turned)[:, :3]
    moved = np.divide(
        (touch * seat.way).sum(axis=1), seat.closing, out=np.zeros(len(gaps)), where=seat.closing > 0.0
    )
    gaps[np.arange(len(gaps)), seat.first] += moved
    return np.asarray(gaps)

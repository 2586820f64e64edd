"""The cheapest closed path round a ring of cells: dynamic programming that also weighs how the path bends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

_SLOPES = 4  # rows that a path may climb from one column to the next
Rows = NDArray[np.int64]


def closed_path(cost: Floats, bend: float) -> Rows:
    """Rows (t,) of the cheapest path through all columns of a ring that ends where it began.

    Parameters
    ----------
    cost : (t, j) finite cost of each cell, t columns round the ring.
    bend : cost of a change of slope by one row per column, which grows with its square.

    A path twice round from any cell to any cell has forgotten its ends in the middle: there the closed one
    passes too. From that cell, and with that slope, a second path goes once round to where it began.
    """
    count, height = cost.shape
    anywhere = np.zeros((2 * _SLOPES + 1, height))
    twice = _cheapest(np.concatenate([cost, cost]), bend, anywhere, np.zeros_like(anywhere))
    slope = int(twice[count] - twice[count - 1])
    seam = np.full_like(anywhere, np.inf)
    seam[slope + _SLOPES, twice[count]] = 0.0
    return _cheapest(cost, bend, seam, seam)


def _cheapest(cost: Floats, bend: float, begin: Floats, end: Floats) -> Rows:
    """Rows (t,) of the cheapest path from column 0 through all columns and on to a copy of column 0.

    Parameters
    ----------
    cost : (t, j) of each cell.
    bend : of a change of slope.
    begin, end : (slopes, j) cost of arriving with each slope in each row of column 0, and of its copy.
    """
    slopes = np.arange(-_SLOPES, _SLOPES + 1)
    turning = bend * (slopes[:, None] - slopes[None, :]) ** 2.0
    came = np.zeros((len(cost), *begin.shape), dtype=np.int8)
    value = begin
    for column in range(len(cost)):
        total = value[:, None] + turning[:, :, None]  # slope before, slope after, row
        best = np.argmin(total, axis=0)
        least = np.take_along_axis(total, best[None], axis=0)[0]
        onto = cost[(column + 1) % len(cost)]
        value = np.full_like(begin, np.inf)
        for after, slope in enumerate(slopes):
            here, there = _shift(int(slope), cost.shape[1])
            value[after, there] = least[after, here] + onto[there]
            came[column, after, there] = best[after, here]
    state, row = np.unravel_index(int(np.argmin(value + end)), value.shape)
    return _back(came, int(state), int(row))


def _shift(slope: int, height: int) -> tuple[slice, slice]:
    """Rows from which, and into which, a path climbs by a slope."""
    if slope >= 0:
        return slice(0, height - slope), slice(slope, height)
    return slice(-slope, height), slice(0, height + slope)


def _back(came: NDArray[np.int8], state: int, row: int) -> Rows:
    """The path's rows (t,), walked back from its end."""
    rows = np.zeros(len(came), dtype=np.int64)
    for column in range(len(came) - 1, -1, -1):
        before = int(came[column, state, row])
        row -= state - _SLOPES
        state = before
        rows[column] = row
    return rows

"""The sheet of least bending between two clamped borders that keeps out of an obstacle.

The sheet is a grid closed along its stations, so its bending energy is diagonal in the Fourier modes along
the stations, and each mode is a small banded system across the rows. Obstacles and slope limits are handled
by the alternating direction method of multipliers (Boyd et al. 2011, Foundations and Trends in Machine
Learning 3:1): the fair sheet and its projection onto what is allowed are drawn together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

Projection = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class FairSheet:
    """The solution.

    Attributes
    ----------
    grid : (n, k, 3) the whole sheet with its clamped rows, mm.
    residual_mm : largest distance between the fair sheet and its projection at the end.
    rounds : how many were used.
    """

    grid: Floats
    residual_mm: float
    rounds: int


def fair_sheet(
    start: Floats,
    clamped_first: int,
    clamped_last: int,
    keep_out: Projection | None = None,
    keep_slope: Projection | None = None,
    pull: float = 0.15,
    rounds: int = 60,
    tolerance_mm: float = 0.05,
) -> FairSheet:
    """The fair sheet.

    Parameters
    ----------
    start : (n, k, 3) first guess in mm; its first and last rows are kept.
    clamped_first, clamped_last : how many rows are kept at either end (2 keep position and slope).
    keep_out : maps sheet points (n, k, 3) to the nearest allowed points.
    keep_slope : maps row differences (n, k - 1, 3) to the nearest allowed ones.
    pull : weight of a constraint against bending.
    rounds, tolerance_mm : when to stop.
    """
    solve = _Solver(start, clamped_first, clamped_last, pull, keep_slope is not None)
    grid = solve.sheet(None, None)
    if keep_out is None and keep_slope is None:
        return FairSheet(grid, 0.0, 0)
    allowed, slopes = grid, np.diff(grid, axis=1)
    push, bend = np.zeros_like(grid), np.zeros_like(slopes)
    residual, used = np.inf, 0
    while used < rounds and residual >= tolerance_mm:
        used += 1
        if keep_out is not None:
            allowed = keep_out(grid + push)
        if keep_slope is not None:
            slopes = keep_slope(np.diff(grid, axis=1) + bend)
        grid = solve.sheet(allowed - push, slopes - bend if keep_slope is not None else None)
        push += grid - allowed
        bend += np.diff(grid, axis=1) - slopes
        free = slice(clamped_first, grid.shape[1] - clamped_last)
        residual = float(np.abs(grid - allowed)[:, free].max()) if keep_out is not None else 0.0
        if keep_slope is not None:
            residual = max(residual, float(np.abs(np.diff(grid, axis=1) - slopes)[:, free].max()))
    return FairSheet(grid, residual, used)


class _Solver:
    """The bending energy in Fourier modes, factored once for one set of clamped rows."""

    def __init__(self, start: Floats, first: int, last: int, pull: float, sloped: bool) -> None:
        self._start, self._pull = start, pull
        count, rows = start.shape[:2]
        self._free = slice(first, rows - last)
        mode = 2.0 * np.cos(2.0 * np.pi * np.arange(count // 2 + 1) / count) - 2.0
        along = np.linalg.norm(np.roll(start, -1, axis=0) - start, axis=-1).mean(axis=0)
        down = np.linalg.norm(np.diff(start, axis=1), axis=-1).mean()
        stretch = (down / np.maximum(along, 1e-6)) ** 2
        second = np.zeros((rows - 2, rows))
        for row in range(rows - 2):
            second[row, row : row + 3] = (1.0, -2.0, 1.0)
        across = np.zeros_like(second)
        across[np.arange(rows - 2), np.arange(1, rows - 1)] = stretch[1:-1]
        operator = second[None] + mode[:, None, None] * across[None]
        energy = np.swapaxes(operator, 1, 2) @ operator
        self._difference = np.diff(np.eye(rows), axis=0)
        weight = pull * np.eye(rows)
        if sloped:
            weight = weight + pull * self._difference.T @ self._difference
        self._energy = energy
        self._weight = weight
        block = energy[:, self._free, self._free]
        self._plain = np.linalg.inv(block + 1e-12 * np.eye(block.shape[-1]))
        self._pulled = np.linalg.inv(block + weight[self._free, self._free])

    def sheet(self, towards: Floats | None, slopes: Floats | None) -> Floats:
        """The sheet of least energy, drawn towards points and row differences when they are given."""
        count = self._start.shape[0]
        kept = self._start.copy()
        kept[:, self._free] = 0.0
        fixed = np.fft.rfft(kept, axis=0)
        right = -_each_mode(self._energy, fixed)
        inverse = self._plain
        if towards is not None:
            target = self._pull * towards
            if slopes is not None:
                target = target + self._pull * (self._difference.T @ slopes)
            right = right + np.fft.rfft(target - self._weight @ kept, axis=0)
            inverse = self._pulled
        solved = _each_mode(inverse, right[:, self._free])
        out = self._start.copy()
        out[:, self._free] = np.fft.irfft(solved, n=count, axis=0)
        return out


def _each_mode(real: Floats, values: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Real matrices (w, i, j) times complex columns (w, j, c), as one real product for speed."""
    columns = np.ascontiguousarray(values).view(np.float64)
    return np.asarray((real @ columns).view(np.complex128))

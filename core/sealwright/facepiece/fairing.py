"""The sheet of least bending between two clamped borders that keeps out of an obstacle.

The sheet is a grid closed along its stations, so its bending energy is diagonal in the Fourier modes along
the stations. Each mode leaves a system across the rows of a few dozen unknowns; it is inverted once, as a
dense matrix, because all modes are then solved in one matrix product per round (measured for 97 modes of 36
rows: 0.2 ms a round, against 4 ms for `scipy.linalg.solveh_banded` mode by mode).

Obstacles and slope limits are handled by the alternating direction method of multipliers (ADMM, Boyd et al.
2011, Foundations and Trends in Machine Learning 3:1) in its scaled form: x is the sheet, z its projection
onto what is allowed, u the scaled dual variable, rho the weight of the constraint. ADMM converges for convex
sets and exact projections. Here the space outside a face is not convex, and `ClearanceField.push_out` moves
points along their rays instead of to the nearest allowed point: the method is a heuristic that stops at a
small residual, and what comes out is judged on the finished body.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

Projection = Callable[[Floats], Floats]
StepProjection = Callable[[Floats, Floats], Floats]

_RELAX = 1.6  # over-relaxation; 1.5 to 1.8 is usual (Boyd et al. 2011, section 3.4.3)
_RHO_ROUNDS = 10  # rounds after which rho grows, while the constraints still do not hold
_RHO_FACTOR = 2.0  # varying penalty (Boyd et al. 2011, section 3.4.1); u is divided by it


@dataclass(frozen=True, eq=False)
class Weights:
    """What weighs against the bending of a sheet.

    Attributes
    ----------
    rho : weight of a constraint at first.
    load : (n, k, 3) push on every point, in the unit of the sheet's fourth differences, mm; None pushes not.
    """

    rho: float = 0.3
    load: Floats | None = None


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


_ROUNDS = 72
_TOLERANCE_MM = 0.03  # a fifth of a print line of 0.15 mm: no finer sheet can be printed


def fair_sheet(
    start: Floats,
    clamped_first: int,
    clamped_last: int,
    keep_out: Projection | None = None,
    keep_slope: StepProjection | None = None,
    weights: Weights | None = None,
) -> FairSheet:
    """The fair sheet.

    Parameters
    ----------
    start : (n, k, 3) first guess in mm; its first and last rows are kept.
    clamped_first, clamped_last : how many rows are kept at either end (2 keep position and slope).
    keep_out : maps sheet points (n, k, 3) to allowed points near by.
    keep_slope : maps row differences (n, k - 1, 3) of a sheet (n, k, 3) to allowed ones near by.
    weights : what weighs against bending; None takes the usual ones.
    """
    weights = weights or Weights()
    solve = _Solver(start, clamped_first, clamped_last, keep_slope is not None)
    if weights.load is not None:
        solve.load(weights.load)
    grid = solve.unconstrained()
    if keep_out is None and keep_slope is None:
        return FairSheet(grid, 0.0, 0)
    solve.scale_rho(weights.rho)
    z_point, z_step = grid, np.diff(grid, axis=1)
    u_point, u_step = np.zeros_like(grid), np.zeros_like(z_step)
    free = slice(clamped_first, grid.shape[1] - clamped_last)
    residual, used = np.inf, 0
    while used < _ROUNDS and residual >= _TOLERANCE_MM:
        used += 1
        if used % _RHO_ROUNDS == 0:
            solve.scale_rho(_RHO_FACTOR)
            u_point, u_step = u_point / _RHO_FACTOR, u_step / _RHO_FACTOR
        x_point = _RELAX * grid + (1.0 - _RELAX) * z_point
        x_step = _RELAX * np.diff(grid, axis=1) + (1.0 - _RELAX) * z_step
        z_point = keep_out(x_point + u_point) if keep_out is not None else x_point + u_point
        u_point += x_point - z_point
        if keep_slope is not None:
            z_step = keep_slope(x_step + u_step, grid)
            u_step += x_step - z_step
        grid = solve.x_update(z_point - u_point, z_step - u_step)
        residual = float(np.abs(grid - z_point)[:, free].max()) if keep_out is not None else 0.0
        if keep_slope is not None:
            # A step next to a clamped row counts, one between clamped rows cannot be helped.
            uneven = np.abs(np.diff(grid, axis=1) - z_step)[:, clamped_first - 1 : free.stop]
            residual = max(residual, float(uneven.max()))
    return FairSheet(grid, residual, used)


class _Solver:
    """The bending energy in Fourier modes, factored once for one set of clamped rows and each rho."""

    def __init__(self, start: Floats, first: int, last: int, sloped: bool) -> None:
        self._start, self._rho, self._sloped = start, 1.0, sloped
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
        self._energy = np.swapaxes(operator, 1, 2) @ operator
        self._difference = np.diff(np.eye(rows), axis=0)
        self._weight = np.eye(rows)
        if sloped:
            self._weight = self._weight + self._difference.T @ self._difference
        self._kept = start.copy()
        self._kept[:, self._free] = 0.0
        self._fixed = -_each_mode(self._energy, np.fft.rfft(self._kept, axis=0))
        self._inverse = self._inverted(0.0)

    def load(self, push: Floats) -> None:
        """Push every point of the sheet by (n, k, 3), see `Weights`."""
        self._fixed = self._fixed + np.fft.rfft(push, axis=0)

    def _inverted(self, rho: float) -> Floats:
        block = self._energy[:, self._free, self._free]
        added = rho * self._weight[self._free, self._free] + 1e-12 * np.eye(block.shape[-1])
        return np.asarray(np.linalg.inv(block + added))

    def scale_rho(self, factor: float) -> None:
        """Multiply rho, the weight of the constraints."""
        self._rho *= factor
        self._inverse = self._inverted(self._rho)

    def unconstrained(self) -> Floats:
        """The sheet of least energy."""
        return self._sheet(self._fixed)

    def x_update(self, points: Floats, steps: Floats) -> Floats:
        """The x-update: the sheet of least energy, drawn towards points and, where they count, row steps."""
        target = points + (self._difference.T @ steps if self._sloped else 0.0)
        drawn = self._rho * (target - self._weight @ self._kept)
        return self._sheet(self._fixed + np.fft.rfft(drawn, axis=0))

    def _sheet(self, right: NDArray[np.complex128]) -> Floats:
        solved = _each_mode(self._inverse, right[:, self._free])
        out = self._start.copy()
        out[:, self._free] = np.fft.irfft(solved, n=self._start.shape[0], axis=0)
        return out


def _each_mode(real: Floats, values: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Real matrices (w, i, j) times complex columns (w, j, c), as one real product for speed."""
    columns = np.ascontiguousarray(values).view(np.float64)
    return np.asarray((real @ columns).view(np.complex128))

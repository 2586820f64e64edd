"""Influence matrices of points round a loop, solved by conjugate gradients.

What presses far off is felt little, so the exact answers of overlapping stretches of the loop, added up
(additive Schwarz; Toselli and Widlund, Domain Decomposition Methods, 2005, chapter 1; from memory), lead to
that of the whole in about ten rounds, and in fewer from the answer of nearly the same points.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from ..mesh import Bools, Floats
from ..parallel import in_threads
from .stations import Codes

_STRETCHES, _OVERLAP = 12, 0.25  # of a stretch, beyond each end
_ROUNDS = 60
_ENOUGH = 1e-9  # unbalanced share that is left
_STRIP = 512  # rows of the matrix that one thread takes


class LoopSolver:
    """One symmetric matrix, solved for changing sets of its points; each answer begins from the last."""

    def __init__(self, matrix: Floats, station: Codes, stations: int) -> None:
        self._matrix, self._station, self._stations = matrix, station, stations
        self._last: Floats | None = None

    def solve(self, active: Bools, wanted: Floats) -> Floats | None:
        """Answers (n, k), zero where not active, to right sides (n, k); None where it is no sound matrix.

        Parameters
        ----------
        active : (n,) points whose rows and columns count.
        """
        try:
            stretches = self._stretches(active)
        except np.linalg.LinAlgError:
            return None
        mask = active[:, None]
        answer = np.zeros_like(wanted) if self._last is None else np.where(mask, self._last, 0.0)
        goal = np.where(mask, wanted, 0.0)
        left = goal - self._times(answer, mask)
        size = np.maximum(np.linalg.norm(goal, axis=0), 1e-300)
        way, before = np.zeros_like(goal), np.ones(goal.shape[1])
        for _ in range(_ROUNDS):
            if (np.linalg.norm(left, axis=0) <= _ENOUGH * size).all():
                self._last = answer
                return answer
            better = _answered(stretches, left)
            now = np.einsum("nk,nk->k", left, better)
            way = better + way * (now / before)
            through = self._times(way, mask)
            bent = np.einsum("nk,nk->k", way, through)
            if (bent < 0.0).any():
                return None
            # A column that is solved has nothing left to go.
            part = np.divide(now, bent, out=np.zeros_like(now), where=bent > 0.0)
            answer, left = answer + part * way, left - part * through
            before = np.maximum(now, 1e-300)
        return None

    def _times(self, values: Floats, mask: Bools) -> Floats:
        strips = [self._matrix[i : i + _STRIP] for i in range(0, len(values), _STRIP)]
        return np.where(mask, np.concatenate(list(in_threads(lambda strip: strip @ values, strips))), 0.0)

    def _stretches(self, active: Bools) -> list[tuple[Codes, tuple[Floats, bool]]]:
        """Points of every stretch of the loop that are active, and the factor of their own matrix."""
        found, length = [], self._stations / _STRETCHES
        for number in range(_STRETCHES):
            along = (self._station - (number - _OVERLAP) * length) % self._stations
            index = np.flatnonzero(active & (along < (1.0 + 2.0 * _OVERLAP) * length))
            if len(index):
                factor = cho_factor(self._matrix[np.ix_(index, index)], check_finite=False)
                found.append((index, factor))
        return found


def _answered(stretches: list[tuple[Codes, tuple[Floats, bool]]], left: Floats) -> Floats:
    """The exact answers of the stretches to what is left, added up."""
    total = np.zeros_like(left)
    for index, factor in stretches:
        total[index] += cho_solve(factor, left[index], check_finite=False)
    return total

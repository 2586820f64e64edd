"""What fronts of a search are judged by: domination by its definition, and the area a front covers."""

from __future__ import annotations

import numpy as np
from sealwright.mesh import Floats
from sealwright.search.pareto import non_dominated


def dominates(first: Floats, second: Floats) -> bool:
    """Whether one set of goals (g,) is nowhere worse and somewhere better than another; small is good."""
    return bool(np.all(first <= second) and np.any(first < second))


def hypervolume(goals: Floats, worst: Floats) -> float:
    """Area that a set of designs with two goals covers up to a worst point (hypervolume), goal units squared.

    Parameters
    ----------
    goals : (n, 2), small is good.
    worst : (2,) reference point; designs beyond it add nothing.
    """
    inside = goals[(goals < worst).all(axis=1)]
    if len(inside) == 0:
        return 0.0
    front = inside[non_dominated(inside)]
    front = front[np.argsort(front[:, 0], kind="stable")]
    right = np.append(front[1:, 0], worst[0])
    return float(((right - front[:, 0]) * (worst[1] - front[:, 1])).sum())

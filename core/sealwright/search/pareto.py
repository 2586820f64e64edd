"""Which of several designs are not beaten by another in every goal."""

from __future__ import annotations

import numpy as np

from ..mesh import Bools, Floats


def non_dominated(goals: Floats) -> Bools:
    """Designs (n,) that no other one dominates.

    Parameters
    ----------
    goals : (n, g), small is good. Of equal rows all are kept.
    """
    no_worse = (goals[:, None, :] <= goals[None, :, :]).all(axis=2)
    better = (goals[:, None, :] < goals[None, :, :]).any(axis=2)
    return ~np.asarray((no_worse & better).any(axis=0), dtype=np.bool_)


def ranks(goals: Floats) -> Floats:
    """Front number (n,) of each design: 0 is not dominated, 1 only by front 0, and so on."""
    rank = np.full(len(goals), -1.0)
    left = np.arange(len(goals))
    number = 0
    while len(left):
        front = non_dominated(goals[left])
        rank[left[front]] = number
        left, number = left[~front], number + 1
    return rank


def crowding_distance(goals: Floats) -> Floats:
    """Room (n,) that each design has among its neighbours in one front, in shares of the range of each goal.

    Ends of the front have infinite room, so they are kept. Deb et al. 2002 (from memory).
    """
    room = np.zeros(len(goals))
    for values in goals.T:
        order = np.argsort(values, kind="stable")
        span = float(values[order[-1]] - values[order[0]])
        room[order[[0, -1]]] = np.inf
        if span > 0.0 and len(order) > 2:
            room[order[1:-1]] += (values[order[2:]] - values[order[:-2]]) / span
    return room

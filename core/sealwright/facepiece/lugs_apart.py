"""Lugs that keep out of each other's room: how far two run into each other, and places chosen together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..hardware.lugs import LugExtent
from ..mesh import Floats


@dataclass(frozen=True, eq=False)
class LugRoom:
    """The room of a lug in place: its 4x4 frame, and its extent there."""

    frame: Floats
    extent: LugExtent


def meets_mm(one: LugRoom, other: LugRoom) -> float:
    """How far two lugs run into each other or nearly, mm; 0 where they do not."""
    into = np.linalg.inv(other.frame) @ one.frame
    points = one.extent.points() @ into[:3, :3].T + into[:3, 3]
    back = (other.extent.points() - into[:3, 3]) @ into[:3, :3]
    return max(other.extent.entered_mm(points), one.extent.entered_mm(back))


def chosen_together(costs: Sequence[Floats], between: Mapping[tuple[int, int], Floats]) -> list[int]:
    """One place for each lug so that the sum of all costs is least; of equal sums the first.

    Parameters
    ----------
    costs : for each lug what speaks against each of its places (k,).
    between : (a, b) with a < b -> (k_a, k_b) what speaks against two places together.
    """
    count = len(costs)
    total = np.zeros((1,) * count)
    for axis, cost in enumerate(costs):
        total = total + cost.reshape([-1 if axis == other else 1 for other in range(count)])
    for (first, second), cost in between.items():
        shape = [1] * count
        shape[first], shape[second] = cost.shape
        total = total + cost.reshape(shape)
    return [int(place) for place in np.unravel_index(int(np.argmin(total)), total.shape)]

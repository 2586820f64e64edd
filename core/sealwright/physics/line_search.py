"""Exact line search on the energy of one-sided springs: its slope along a ray only ever rises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats

ENOUGH = 0.1
"""The slope may stay at this share of its start: exact to the last digit is not needed on the way."""


@dataclass(frozen=True, eq=False)
class Ray:
    """Springs along a direction of motion.

    Attributes
    ----------
    gap : (n,) mm at the start; pressed where negative.
    rate : (n,) mm of opening per unit of the way.
    weight : (n,) N/mm.
    shear : curvature of the always active part.
    """

    gap: Floats
    rate: Floats
    weight: Floats
    shear: float

    def spring_slope(self, length: float) -> float:
        """Slope of the spring energy after a length of way."""
        squeeze = np.maximum(0.0, -(self.gap + length * self.rate))
        return -float((squeeze * self.weight) @ self.rate)


def step_length(ray: Ray, slope: float, farthest: float) -> float:
    """How far to go along a ray until the energy no longer falls.

    Parameters
    ----------
    ray : the springs.
    slope : slope of the whole energy at the start, negative.
    farthest : limit of the way.

    Returns
    -------
    The way, with the slope there at most `ENOUGH` of that at the start; ``farthest`` where the energy falls
    all the way.
    """
    offset = slope - ray.spring_slope(0.0)

    def at(length: float) -> float:
        """Slope of the energy at a step length."""
        return offset + ray.spring_slope(length) + length * ray.shear

    low, high = 0.0, min(1.0, farthest)
    at_low, at_high = slope, at(high)
    while at_high < ENOUGH * slope:
        if high >= farthest:
            return farthest
        low, at_low = high, at_high
        high = min(4.0 * high, farthest)
        at_high = at(high)
    return _root(at, low, at_low, high, at_high, ENOUGH * abs(slope))


def _root(
    at: Callable[[float], float], low: float, at_low: float, high: float, at_high: float, enough: float
) -> float:
    """Illinois false position on a rising function; falls back to halving by its own nature."""
    if abs(at_high) <= enough:
        return high
    side = 0
    for _ in range(100):
        middle = low + (high - low) * (-at_low) / (at_high - at_low)
        value = at(middle)
        if abs(value) <= enough or high - low <= 1e-15 * high:
            return middle
        if value < 0.0:
            low, at_low = middle, value
            at_high = 0.5 * at_high if side == -1 else at_high
            side = -1
        else:
            high, at_high = middle, value
            at_low = 0.5 * at_low if side == 1 else at_low
            side = 1
    return low

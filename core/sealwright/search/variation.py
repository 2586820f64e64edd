"""How an evolutionary search makes new points of old ones; all points are shares (0 to 1) of their ranges.

Simulated binary crossover and polynomial mutation (Deb and Agrawal 1995, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats


def tournament(random: np.random.Generator, many: int, size: int) -> NDArray[np.int64]:
    """Of two drawn places in an order of merit (best first) the better one, ``size`` times."""
    return np.asarray(random.integers(0, many, (2, size)).min(axis=0), dtype=np.int64)


def simulated_binary_crossover(
    random: np.random.Generator, mothers: Floats, fathers: Floats, spread: float
) -> Floats:
    """One child (m, d) of each pair, about as far from one parent as the parents are apart.

    Parameters
    ----------
    mothers, fathers : (m, d).
    spread : larger is nearer to the parents.
    """
    draw = random.random(mothers.shape)
    power = 1.0 / (spread + 1.0)
    factor = np.where(draw < 0.5, (2.0 * draw) ** power, (1.0 / (2.0 * (1.0 - draw))) ** power)
    side = np.where(random.random(mothers.shape) < 0.5, 1.0, -1.0)
    child = 0.5 * (mothers + fathers) + 0.5 * side * factor * (mothers - fathers)
    return np.asarray(np.clip(child, 0.0, 1.0))


def polynomial_mutation(random: np.random.Generator, points: Floats, spread: float) -> Floats:
    """Points (m, d) with about one value of each moved.

    Parameters
    ----------
    points : (m, d).
    spread : larger moves less.
    """
    draw = random.random(points.shape)
    power = 1.0 / (spread + 1.0)
    shift = np.where(draw < 0.5, (2.0 * draw) ** power - 1.0, 1.0 - (2.0 * (1.0 - draw)) ** power)
    hit = random.random(points.shape) < max(1.0 / points.shape[1], 0.1)
    return np.asarray(np.clip(points + np.where(hit, shift, 0.0), 0.0, 1.0))

"""The lowest place of a smooth number by gradients, in steps that a window can stop between.

Limited-memory BFGS with a search backwards along each line (Nocedal and Wright, Numerical Optimization, 2006,
algorithms 3.1 and 7.4; from memory); held against another implementation in the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Generator

import numpy as np

from ..mesh import Floats

_MEMORY = 10
_ENOUGH = 1e-4  # of the slope's promise that a step has to keep
_BENT = 1e-10  # curvature, as a share, from which on a step is remembered
_TRIES = 12
_FLAT, _STILL = 1e-5, 2e-9  # largest slope, and fall as a share of the number, at which it is done


def descent_steps(
    cost: Callable[[Floats], tuple[float, Floats]], start: Floats, rounds: int
) -> Generator[float, None, Floats]:
    """Go down from a start; a step each time the number is asked, with the share done. Gives a place (d,).

    Parameters
    ----------
    cost : place (d,) -> the number, and its slope (d,).
    start : (d,).
    rounds : lines that are searched at most.
    """
    at = start.copy()
    value, slope = cost(at)
    yield 0.0
    ways, turns = list[Floats](), list[Floats]()
    for number in range(rounds):
        if np.abs(slope).max() <= _FLAT:
            break
        way = -_through(slope, ways, turns)
        fall = float(slope @ way)
        length = 1.0 if ways else min(1.0, 1.0 / float(np.abs(slope).sum()))
        for _ in range(_TRIES):
            after, new_slope = cost(at + length * way)
            yield number / rounds
            if after <= value + _ENOUGH * length * fall:
                break
            # The lowest place of the parabola through both values and the slope, within bounds.
            lowest = -0.5 * fall * length**2 / max(after - value - fall * length, 1e-300)
            length = float(np.clip(lowest, 0.1 * length, 0.5 * length))
        else:
            break
        step, turn = length * way, new_slope - slope
        if step @ turn > _BENT * float(np.linalg.norm(step) * np.linalg.norm(turn)):
            ways, turns = [*ways, step][-_MEMORY:], [*turns, turn][-_MEMORY:]
        gained = value - after
        at, value, slope = at + step, after, new_slope
        if gained <= _STILL * max(abs(value), 1.0):
            break
    return at


def _through(slope: Floats, ways: list[Floats], turns: list[Floats]) -> Floats:
    """The slope (d,) through the inverse curvature that the last steps showed."""
    left, shares = slope.copy(), list[float]()
    for way, turn in zip(reversed(ways), reversed(turns), strict=True):
        shares.append(float(way @ left) / float(turn @ way))
        left -= shares[-1] * turn
    if ways:
        left *= float(ways[-1] @ turns[-1]) / float(turns[-1] @ turns[-1])
    for way, turn, share in zip(ways, turns, reversed(shares), strict=True):
        left += (share - float(turn @ left) / float(turn @ way)) * way
    return left

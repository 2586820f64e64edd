"""What a design is held against over the draws, and how surely one differs from another worn by the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..limits import limit
from ..mesh import Floats
from ..physics.worn import Worn, quantile_of

SURE = 2.0
"""Standard errors of the difference, draw by draw, from which on a change counts; common practice."""


@dataclass(frozen=True)
class Target:
    """What a design is held against over the draws.

    Attributes
    ----------
    key : of the number in the report's line of numbers.
    limit : name of its row in the table of limits.
    at_least : the number must reach the limit; else it must not pass it.
    """

    key: str
    limit: str
    at_least: bool

    @property
    def value(self) -> float:
        """The limit."""
        return limit(self.limit).value

    def short(self, value: float) -> float:
        """How far a value is from its limit, as a share of the limit; 0 where it is kept."""
        way = self.value - value if self.at_least else value - self.value
        return max(way / self.value, 0.0)


PRESSURE = Target("pressure_p95_kpa", "skin_pressure", False)
REACHING = Target("share_reaching_100", "fit_factor_share", True)
HOLDING = Target("share_holding", "hold_share", True)
TARGETS = (PRESSURE, REACHING, HOLDING)


def numbers_of(worn: Worn) -> dict[str, float]:
    """The numbers that targets are for."""
    return {
        PRESSURE.key: worn.p95_median_kpa,
        REACHING.key: float(reaches(worn).mean()),
        HOLDING.key: float(worn.holds.mean()),
    }


def reaches(worn: Worn) -> Floats:
    """Draws (m,) that reach the fit factor asked for: 1, the others 0."""
    return (worn.fit_factor >= limit("fit_factor").value).astype(np.float64)


def errors_between(start: Worn, worn: Worn) -> dict[str, float]:
    """Standard error of the difference between two masks worn by the same draws, by target."""
    both = start.good & worn.good
    pressure = worn.p95_kpa[both] - start.p95_kpa[both]
    reaching = reaches(worn) - reaches(start)
    holding = worn.holds.astype(np.float64) - start.holds.astype(np.float64)
    return {
        PRESSURE.key: quantile_of(pressure, 0.5).error if both.any() else np.inf,
        REACHING.key: error_of_mean(reaching),
        HOLDING.key: error_of_mean(holding),
    }


def error_of_mean(values: Floats) -> float:
    """Standard error of the mean of values (m,)."""
    return float(values.std() / np.sqrt(len(values)))

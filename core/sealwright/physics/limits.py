"""Published limits, and a number held against one of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ..tables import table


@dataclass(frozen=True)
class ResistanceLimit:
    """One row of the table of breathing resistance.

    Attributes
    ----------
    name : what it is a limit of.
    phase : "inhalation" or "exhalation".
    flow_l_min : constant flow of the test.
    limit_pa : largest pressure.
    scope : "mask with filter", "body without filter", "body with valve" or "filter alone".
    as_published : value and unit of the source.
    confidence, source : tag and place.
    """

    name: str
    phase: str
    flow_l_min: float
    limit_pa: float
    scope: str
    as_published: str
    confidence: str
    source: str


@dataclass(frozen=True)
class LimitCheck:
    """A predicted pressure beside its limit.

    Attributes
    ----------
    limit : the row.
    value_pa : the prediction with the typical resistance of the medium.
    low_pa, high_pa : with the least and the largest resistance of its stated range.
    """

    limit: ResistanceLimit
    value_pa: float
    low_pa: float
    high_pa: float

    @property
    def passed(self) -> bool:
        """Whether the whole range keeps the limit: one that its middle alone keeps is not kept."""
        return self.high_pa <= self.limit.limit_pa

    @property
    def use(self) -> float:
        """Share of the limit that is used up."""
        return self.value_pa / self.limit.limit_pa


@cache
def resistance_limits() -> tuple[ResistanceLimit, ...]:
    """All limits of breathing resistance, in the order of the table."""
    return tuple(ResistanceLimit(**row) for row in table("limits")["resistance"])

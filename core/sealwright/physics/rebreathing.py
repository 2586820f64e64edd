"""Carbon dioxide that is breathed in again from the dead space of the mask."""

from __future__ import annotations

from dataclasses import dataclass

from ..limits import limit
from ..tables import table
from ..values import require_range

OUTSIDE_SHARE = (0.05, 0.0, 0.09)
"""Used air before the mask that comes back, as a share of a breath: typical, low, high. The high end is the
largest
effective volume measured, 360 mL, less a dead space of 180 mL, over the machine's 2 L (C from V); the low
end is
moving air outside."""

FLUSHED_SHARE = 0.5
"""Part of the dead space that is breathed in again where the chamber flushes well: measured reductions run
from 17 to
100 % (read in an abstract); our choice within them."""


@dataclass(frozen=True)
class Rebreathing:
    """Mean carbon dioxide in the inhaled air for one way of breathing.

    Attributes
    ----------
    name : the way of breathing.
    tidal_l, rate_per_min : volume and number of breaths.
    inhaled_percent : typical estimate of the mean.
    low_percent, high_percent : its range.
    limit_percent : limit.
    """

    name: str
    tidal_l: float
    rate_per_min: float
    inhaled_percent: float
    low_percent: float
    high_percent: float
    limit_percent: float

    @property
    def passed(self) -> bool:
        """Whether the whole range keeps the limit."""
        return self.high_percent <= self.limit_percent


def inhaled_co2_percent(dead_space_l: float, tidal_l: float, exhaled_percent: float = 5.0) -> float:
    """Mean carbon dioxide in the inhaled air: exhaled share times dead space over breath, % by volume.

    docs/standards section 5.3; a breath no larger than the dead space only moves exhaled air to and fro.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    dead = require_range(dead_space_l, 0.0, 3.0, "L", "dead_space_l")
    tidal = require_range(tidal_l, 0.1, 5.0, "L", "tidal_l")
    exhaled = require_range(exhaled_percent, 0.0, 10.0, "%", "exhaled_percent")
    return exhaled * min(1.0, dead / tidal)


def rebreathing(dead_space_l: float) -> tuple[Rebreathing, ...]:
    """The estimate for the breathing machine of the standard, for light work and for small breaths.

    To be shown with ``assumptions("rebreathing")``.

    Raises
    ------
    BadRecipe : dead space outside 0 to 3 L.
    """
    rule, most = table("limits")["rebreathing"], limit("carbon_dioxide").value
    exhaled = rule["exhaled_percent"]

    def percent(tidal_l: float, dead_l: float, outside: float) -> float:
        """Carbon dioxide in the inhaled air of one breath."""
        return inhaled_co2_percent(min(dead_l + outside * tidal_l, 3.0), tidal_l, exhaled)

    typical, low, high = OUTSIDE_SHARE
    return tuple(
        Rebreathing(
            breath["name"],
            breath["tidal_l"],
            breath["rate_per_min"],
            percent(breath["tidal_l"], dead_space_l, typical),
            percent(breath["tidal_l"], FLUSHED_SHARE * dead_space_l, low),
            percent(breath["tidal_l"], dead_space_l, high),
            most,
        )
        for breath in rule["breaths"]
    )

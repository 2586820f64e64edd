"""Carbon dioxide that is breathed in again from the dead space of the mask."""

from __future__ import annotations

from dataclasses import dataclass

from ..limits import limit
from ..tables import table
from ..values import require_range

ASSUMPTIONS = (
    "The chamber is well mixed and full of exhaled air when a breath begins: an upper bound, a real chamber "
    "flushes better.",
    "Exhaled air carries 5 % carbon dioxide and does not rise with what is breathed in again.",
    "Dead space is the volume between face and body at rest; a loose or high chamber adds to it.",
    "The wearer's breath fills the tidal volume given; small breaths are the worst case.",
)


@dataclass(frozen=True)
class Rebreathing:
    """Mean carbon dioxide in the inhaled air for one way of breathing.

    Attributes
    ----------
    name : the way of breathing.
    tidal_l, rate_per_min : volume and number of breaths.
    inhaled_percent : upper bound of the mean.
    limit_percent : limit.
    """

    name: str
    tidal_l: float
    rate_per_min: float
    inhaled_percent: float
    limit_percent: float

    @property
    def passed(self) -> bool:
        """Whether the upper bound keeps the limit."""
        return self.inhaled_percent <= self.limit_percent


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

    To be shown with `ASSUMPTIONS`.

    Raises
    ------
    BadRecipe : dead space outside 0 to 3 L.
    """
    rule, most = table("limits")["rebreathing"], limit("carbon_dioxide").value
    return tuple(
        Rebreathing(
            breath["name"],
            breath["tidal_l"],
            breath["rate_per_min"],
            inhaled_co2_percent(dead_space_l, breath["tidal_l"], rule["exhaled_percent"]),
            most,
        )
        for breath in rule["breaths"]
    )

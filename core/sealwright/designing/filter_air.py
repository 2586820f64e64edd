"""What the filter of a recipe lets through, and whether it alone keeps the limits of breathing out."""

from __future__ import annotations

import math

from ..hardware.allowance import Allowance
from ..hardware.filter_area import medium_row
from ..hardware.holder_facts import air_passage_mm2
from ..hardware.holder_layout import holder_layout
from ..hardware.outlines import seat_of
from ..hardware.port_facts import PortFacts, bore_of
from ..physics.breathing import AirwaySettings, check_limits
from ..physics.leak import Medium
from ..physics.prediction_settings import FilterAssumptions
from ..recipe import Recipe
from ..recipe.decisions import held_by, holder_on


def medium_area_mm2(recipe: Recipe) -> float:
    """Open area of medium in all holders, pleats unfolded; of the holder section's where no port has one."""
    held = held_by(recipe) or [recipe.holder]
    return sum(seat_of(one).area_mm2(one.land_mm) * one.pleat_factor for one in held)


def filter_of(recipe: Recipe, assumed: FilterAssumptions | None = None) -> tuple[Medium, Medium, Medium]:
    """The filter of a recipe with the middle, the least and the largest resistance of its table row.

    The open area is the seat inside the glued land times the pleats.

    Raises
    ------
    BadRecipe : no such medium.
    """
    chosen = assumed or FilterAssumptions()
    row = medium_row(recipe.holder.medium)["resistance_pa_s_m"]
    area = medium_area_mm2(recipe) / 100.0
    middle, least, most = (
        Medium(float(value), area, chosen.penetration) for value in (row["value"], row["low"], row["high"])
    )
    return middle, least, most


def misses_breathing_out(recipe: Recipe, port: PortFacts, allowance: Allowance) -> bool:
    """Whether the filter alone, at its middle resistance, misses a limit of breathing out.

    Parameters
    ----------
    port : the first port, which the holder screws on.
    """
    bore = bore_of(port) or AirwaySettings().port_bore_mm
    held = holder_on(recipe, 0) or recipe.holder
    passage = air_passage_mm2(held, holder_layout(held, recipe.ports[0].connection, allowance))
    one = min(math.pi / 4.0 * bore**2, passage)
    side_by_side = one * max(len(held_by(recipe)), 1)  # further holders are taken to be as open
    airway = AirwaySettings(port_bore_mm=2.0 * math.sqrt(side_by_side / math.pi))
    medium = filter_of(recipe, recipe.prediction.filter)[0]
    checks = [c for c in check_limits(medium, airway) if c.limit.phase == "exhalation"]
    return any(check.value_pa > check.limit.limit_pa for check in checks)

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


def filter_of(recipe: Recipe, assumed: FilterAssumptions | None = None) -> tuple[Medium, Medium, Medium]:
    """The filter of a recipe with the middle, the least and the largest resistance of its table row.

    The open area is the seat inside the glued land times the pleats.

    Raises
    ------
    BadRecipe : no such medium.
    """
    chosen, holder = assumed or FilterAssumptions(), recipe.holder
    row = medium_row(holder.medium)["resistance_pa_s_m"]
    area = seat_of(holder).area_mm2(holder.land_mm) * holder.pleat_factor / 100.0
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
    passage = air_passage_mm2(
        recipe.holder, holder_layout(recipe.holder, recipe.ports[0].connection, allowance)
    )
    airway = AirwaySettings(port_bore_mm=min(bore, 2.0 * math.sqrt(passage / math.pi)))
    medium = filter_of(recipe, recipe.prediction.filter)[0]
    checks = [c for c in check_limits(medium, airway) if c.limit.phase == "exhalation"]
    return any(check.value_pa > check.limit.limit_pa for check in checks)

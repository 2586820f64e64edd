"""The way of the air through a design as plain numbers: filter, holes, dead space."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..designing.design import Design
from ..designing.filter_air import filter_of, medium_area_mm2
from ..errors import DoesNotFit
from ..hardware.filter_area import medium_row
from ..hardware.options import HolderSettings
from ..hardware.outlines import seat_of
from ..hardware.port_facts import PortFacts, ValvePortFacts, bore_of
from ..physics.breathing import AirwaySettings, Resistance, check_limits, resistance_table
from ..physics.filter_case import FilterCase
from ..physics.leak import Medium
from ..physics.limits import LimitCheck
from ..physics.prediction_settings import FilterAssumptions
from ..physics.rebreathing import Rebreathing, rebreathing
from ..recipe import Recipe
from ..recipe.decisions import held_by
from ..tables import table


@dataclass(frozen=True)
class DeadSpace:
    """Air that is breathed to and fro, ml.

    Attributes
    ----------
    chamber_ml : between face and body, by solids.
    port_ml : in the bores of the ports that carry a filter, cylinders.
    holder_ml : between port and medium, by solids; in a sketch, which has none, seat area times the height
        of grid and channels.
    valve_ml : in the bores of valves, from the wall to the flap.
    """

    chamber_ml: float
    port_ml: float
    holder_ml: float
    valve_ml: float = 0.0

    @property
    def total_ml(self) -> float:
        """All of it."""
        return self.chamber_ml + self.port_ml + self.holder_ml + self.valve_ml


@dataclass(frozen=True, kw_only=True)
class Breathing:
    """How a design lets its wearer breathe.

    Attributes
    ----------
    medium : the filter, with the middle resistance of its table row.
    airway : the holes on the way of the air.
    resistance, resistance_range : pressures with the middle resistance; total pressures of the same rows for
        the least and the largest one.
    limits : against the published limits, over the whole range of the resistance.
    dead_space, rebreathing : air breathed to and fro, and the carbon dioxide in it.
    """

    medium: Medium
    airway: AirwaySettings
    resistance: tuple[Resistance, ...]
    resistance_range: tuple[tuple[float, float], ...]
    limits: tuple[LimitCheck, ...]
    dead_space: DeadSpace
    rebreathing: tuple[Rebreathing, ...]


def breathing_of(design: Design, assumed: FilterAssumptions | None = None) -> Breathing:
    """Resistance and rebreathed air of a design.

    Parameters
    ----------
    design : with a port.
    assumed : of the filter; None takes the recipe's own.

    Raises
    ------
    DoesNotFit : the design has no port.
    BadRecipe : no such medium.
    """
    middle, least, most = filter_of(design.recipe, assumed or design.recipe.prediction.filter)
    airway, dead = airway_of(design), dead_space_of(design)
    low, high = resistance_table(least, airway), resistance_table(most, airway)
    return Breathing(
        medium=middle,
        airway=airway,
        resistance=resistance_table(middle, airway),
        resistance_range=tuple((a.total_pa, b.total_pa) for a, b in zip(low, high, strict=True)),
        limits=check_limits(middle, airway, least, most),
        dead_space=dead,
        rebreathing=rebreathing(dead.total_ml / 1000.0),
    )


def filter_case_of(design: Design, assumed: FilterAssumptions | None = None) -> FilterCase:
    """The filter of a design with its ranges of resistance and penetration, and the way to it.

    Raises
    ------
    BadRecipe : no such medium.
    DoesNotFit : the design has no port.
    """
    chosen, holder = assumed or FilterAssumptions(), design.recipe.holder
    row = medium_row(holder.medium)
    resistance, through = row["resistance_pa_s_m"], row["penetration"]
    passes = (through["value"], through["low"], through["high"])
    return FilterCase(
        (float(resistance["value"]), float(resistance["low"]), float(resistance["high"])),
        medium_area_mm2(design.recipe) / 100.0,
        (chosen.penetration,) * 3 if chosen.penetration > 0.0 else passes,
        float(table("media")["usual_velocity_cm_s"]["value"]),
        airway_of(design),
    )


def medium_source(recipe: Recipe) -> tuple[str, str]:
    """Confidence and source of the medium's resistance."""
    row = medium_row(recipe.holder.medium)["resistance_pa_s_m"]
    return str(row["confidence"]), str(row["source"])


def airway_of(design: Design) -> AirwaySettings:
    """The holes a breath passes: the first port or the narrowest place of the holder, and a valve if any.

    Raises
    ------
    DoesNotFit : the design has no port.
    """
    ports = _port_facts(design)
    inlets = [placed.parts.facts for placed in design.ports if placed.parts.holds] or ports[:1]
    narrow = design.holder.facts.sizes.air_passage_mm2 if design.holder is not None else math.inf
    bores = [bore_of(facts) or AirwaySettings().port_bore_mm for facts in inlets]
    bore = 2.0 * math.sqrt(sum(min(math.pi / 4.0 * b**2, narrow) for b in bores) / math.pi)  # side by side
    valves = [facts for facts in ports if isinstance(facts, ValvePortFacts)]
    if not valves:
        return AirwaySettings(port_bore_mm=bore)
    inner = valves[0].valve_seat_inner_diameter_mm
    share = valves[0].valve_open_area_mm2 / (math.pi / 4.0 * inner**2)
    return AirwaySettings(port_bore_mm=bore, valve_bore_mm=inner, valve_open_share=min(max(share, 0.05), 1.0))


def dead_space_of(design: Design) -> DeadSpace:
    """Dead space up to the medium and the flap of a valve.

    Raises
    ------
    DoesNotFit : the design has no port.
    """
    ports = _port_facts(design)
    air = sum(held.facts.holder_air_mm3 for held in design.holders)
    if not design.holders:
        air = sum(_rough_air_mm3(held) for held in held_by(design.recipe))
    inlets = [p for p in design.ports if p.parts.holds] or design.ports[:1]
    bores = sum(
        _cylinder_ml(bore_of(p.parts.facts) or 0.0, p.parts.length_mm + p.parts.tube_mm) for p in inlets
    )
    valves = [facts for facts in ports if isinstance(facts, ValvePortFacts)]
    valve = sum(_cylinder_ml(f.valve_seat_inner_diameter_mm, f.valve_seat_plane_z_mm) for f in valves)
    return DeadSpace(design.chamber_ml or 0.0, bores, air / 1000.0, valve)


def _rough_air_mm3(holder: HolderSettings) -> float:
    """Air in a holder that is not built yet: its open area under the mean of the conical roof."""
    high = holder.grid_mm + holder.plenum_mm + holder.plenum_rise_mm / 3.0
    return seat_of(holder).area_mm2(holder.land_mm) * high


def _cylinder_ml(diameter_mm: float, length_mm: float) -> float:
    return math.pi / 4.0 * diameter_mm**2 * length_mm / 1000.0


def _port_facts(design: Design) -> list[PortFacts]:
    if not design.ports:
        raise DoesNotFit("The design has no port to breathe through.", "port", "Give the recipe a port.")
    return [placed.parts.facts for placed in design.ports]

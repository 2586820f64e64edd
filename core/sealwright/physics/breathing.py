"""Resistance of medium, ports and valve to breathing, against the published limits.

Constant flow, as the standards test it. Weak: the medium is new and dry (dust and damp only add), ports are
plain holes with handbook losses, and the flap of the valve is taken as a hole with a loss and an opening
pressure; a real flap must be measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..limits import ResistanceLimit, resistance_limits
from ..settings import check_settings, count, quantity
from ..values import require_range
from .leak import Medium
from .limits import LimitCheck
from .slot import DENSITY_KG_M3, L_PER_MIN

FLOWS_L_MIN = (30.0, 85.0, 95.0, 160.0)
"""Flows at which limits are published."""

LARGEST_FLOW_L_MIN = 600.0


@dataclass(frozen=True)
class AirwaySettings:
    """Holes the breath has to pass besides the medium."""

    port_bore_mm: float = quantity(30.0, "mm", 5.0, 80.0, "Free bore of an inlet port.")
    port_count: int = count(1, 1, 4, "Inlet ports that share the breath.")
    port_loss: float = quantity(
        1.5, "1", 0.0, 10.0, "Loss of a port in velocity heads: 0.5 sharp entrance + 1.0 exit (handbook)."
    )
    valve_bore_mm: float = quantity(
        0.0, "mm", 0.0, 60.0, "Bore of the exhalation valve; 0 is none: out through the medium."
    )
    valve_open_share: float = quantity(
        0.6,
        "1",
        0.05,
        1.0,
        "Share of the valve's bore between its spokes and under the open flap; assumption.",
    )
    valve_loss: float = quantity(
        2.5,
        "1",
        0.5,
        20.0,
        "Loss of the valve in velocity heads: the air turns a corner under the flap; assumption.",
    )
    valve_opens_pa: float = quantity(
        15.0, "Pa", 0.0, 200.0, "Pressure at which the flap lifts; common practice, no source."
    )


@dataclass(frozen=True)
class Resistance:
    """Pressure at one constant flow.

    Attributes
    ----------
    phase : "inhalation" or "exhalation".
    flow_l_min : the flow.
    medium_pa, port_pa, valve_pa : its parts (the valve lies beside the medium: the same pressure, not a sum).
    total_pa : pressure between mask and outside.
    """

    phase: str
    flow_l_min: float
    medium_pa: float
    port_pa: float
    valve_pa: float
    total_pa: float


def medium_drop_pa(flow_l_min: float, medium: Medium) -> float:
    """Pressure drop of the medium, dp = k v, Pa (Darcy; fine below about 20 cm/s).

    Raises
    ------
    BadRecipe : a value out of range.
    """
    flow = require_range(flow_l_min, 0.0, LARGEST_FLOW_L_MIN, "L/min", "flow_l_min")
    return medium.pressure_per_flow() * flow * L_PER_MIN


def dynamic_head_pa(flow_l_min: float, bore_mm: float) -> float:
    """Velocity head of a flow in a bore, 1/2 rho v^2, Pa.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    flow = require_range(flow_l_min, 0.0, LARGEST_FLOW_L_MIN, "L/min", "flow_l_min")
    bore = require_range(bore_mm, 1.0, 200.0, "mm", "bore_mm")
    speed = flow * L_PER_MIN / (math.pi / 4.0 * (bore * 1e-3) ** 2)
    return 0.5 * DENSITY_KG_M3 * speed * speed


def inhalation(flow_l_min: float, medium: Medium, airway: AirwaySettings | None = None) -> Resistance:
    """Breathing in at a constant flow: medium and ports in series.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    chosen = airway or AirwaySettings()
    check_settings(chosen, "airway")
    drop = medium_drop_pa(flow_l_min, medium)
    port = chosen.port_loss * dynamic_head_pa(flow_l_min / chosen.port_count, chosen.port_bore_mm)
    return Resistance("inhalation", float(flow_l_min), drop, port, 0.0, drop + port)


def exhalation(flow_l_min: float, medium: Medium, airway: AirwaySettings | None = None) -> Resistance:
    """Breathing out at a constant flow: the valve beside medium and ports, or these alone.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    chosen = airway or AirwaySettings()
    alone = inhalation(flow_l_min, medium, chosen)
    if chosen.valve_bore_mm <= 0.0 or alone.total_pa <= chosen.valve_opens_pa:
        return Resistance("exhalation", alone.flow_l_min, alone.medium_pa, alone.port_pa, 0.0, alone.total_pa)
    low, high = 0.0, float(flow_l_min)
    # Share of the breath through the valve: its pressure rises with it while that of the medium falls.
    for _ in range(80):
        middle = 0.5 * (low + high)
        through = inhalation(flow_l_min - middle, medium, chosen).total_pa
        low, high = (middle, high) if _valve_pa(middle, chosen) < through else (low, middle)
    rest = inhalation(flow_l_min - low, medium, chosen)
    return Resistance(
        "exhalation", float(flow_l_min), rest.medium_pa, rest.port_pa, _valve_pa(low, chosen), rest.total_pa
    )


def _valve_pa(flow_l_min: float, airway: AirwaySettings) -> float:
    bore = airway.valve_bore_mm * math.sqrt(airway.valve_open_share)
    return airway.valve_opens_pa + airway.valve_loss * dynamic_head_pa(flow_l_min, bore)


def resistance_table(
    medium: Medium, airway: AirwaySettings | None = None, flows: Sequence[float] = FLOWS_L_MIN
) -> tuple[Resistance, ...]:
    """Breathing in and out at the flows of the standards (30, 85, 95, 160 L/min).

    Raises
    ------
    BadRecipe : a value out of range.
    """
    inward = [inhalation(flow, medium, airway) for flow in flows]
    return (*inward, *[exhalation(flow, medium, airway) for flow in flows])


def check_limits(
    medium: Medium,
    airway: AirwaySettings | None = None,
    least: Medium | None = None,
    most: Medium | None = None,
) -> tuple[LimitCheck, ...]:
    """Every published limit beside what is predicted for its own scope, phase and flow.

    A limit for a body with a valve is left out where there is none.

    Parameters
    ----------
    medium : with its typical resistance.
    airway : ports and valve.
    least, most : the ends of its stated range; None takes the typical one, known exactly.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    chosen = airway or AirwaySettings()
    checks = []
    for limit in resistance_limits():
        if limit.scope == "body with valve" and chosen.valve_bore_mm <= 0.0:
            continue
        values = [_in_scope(limit, one, chosen) for one in (medium, least or medium, most or medium)]
        checks.append(LimitCheck(limit, *values))
    return tuple(checks)


def _in_scope(limit: ResistanceLimit, medium: Medium, airway: AirwaySettings) -> float:
    """The pressure that a limit is about, Pa."""
    breath = inhalation if limit.phase == "inhalation" else exhalation
    found = breath(limit.flow_l_min, medium, airway)
    part = {"filter alone": found.medium_pa, "body without filter": found.port_pa}
    return part.get(limit.scope, found.total_pa)

"""Medium area to face velocity to pressure drop, against the usual limits."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import Remark, Where
from ..limits import inhalation_limits
from ..tables import MediumRow, known_row, table

MM2_PER_CM2 = 100.0


@dataclass(frozen=True)
class AtFlow:
    """What a clean medium does at one flow."""

    flow_l_min: float
    velocity_cm_s: float
    drop_pa: float


@dataclass(frozen=True, kw_only=True)
class FilterFacts:
    """A medium of the table, how much of it there is, and what it does at the flows of the limits."""

    medium: str
    confidence: str
    resistance_pa_s_m: float
    area_cm2: float
    at_flows: tuple[AtFlow, ...]


@dataclass(frozen=True)
class FilterJudgement:
    """Face velocity and pressure drop at the usual flows, with remarks where a limit is passed."""

    facts: FilterFacts
    remarks: tuple[Remark, ...]


def face_velocity_cm_s(flow_l_min: float, area_mm2: float) -> float:
    """Face velocity v = Q / A, cm/s."""
    return flow_l_min * 1000.0 / 60.0 / (area_mm2 / MM2_PER_CM2)


def pressure_drop_pa(resistance_pa_s_m: float, velocity_cm_s: float) -> float:
    """Darcy pressure drop k v, Pa; linear is fine under about 20 cm/s (from memory)."""
    return resistance_pa_s_m * velocity_cm_s / 100.0


def area_for_drop_mm2(resistance_pa_s_m: float, flow_l_min: float, drop_pa: float) -> float:
    """Medium area that gives a pressure drop at a flow, mm2."""
    return resistance_pa_s_m * (flow_l_min / 60000.0) / drop_pa * 1e6


def medium_row(key: str) -> MediumRow:
    """A row of the media table.

    Raises
    ------
    BadRecipe : no such medium.
    """
    rows: dict[str, MediumRow] = table("media")["media"]
    return known_row(rows, key, "filter medium", "holder.medium")


def judge_filter(medium: str, area_mm2: float) -> FilterJudgement:
    """Face velocity and pressure drop of an area of medium at the flows of the limits table.

    Parameters
    ----------
    medium : key of the media table.
    area_mm2 : unfolded medium area that air passes through.

    Raises
    ------
    BadRecipe : no such medium.
    """
    row, where = medium_row(medium), Where("filter", key="holder.medium")
    resistance = float(row["resistance_pa_s_m"]["value"])
    remarks, at_flows = [], []
    for limit in inhalation_limits():
        flow = limit.flow_l_min
        velocity = face_velocity_cm_s(flow, area_mm2)
        drop = pressure_drop_pa(resistance, velocity)
        at_flows.append(AtFlow(float(flow), velocity, drop))
        if drop > limit.limit_pa:
            needed = area_for_drop_mm2(resistance, flow, limit.limit_pa) / MM2_PER_CM2
            remarks.append(
                Remark(
                    "warning",
                    f"The clean medium alone drops {drop:.0f} Pa at {flow:g} L/min; {limit.name} allows "
                    f"{limit.limit_pa:.0f} Pa for the whole device. {needed:.0f} cm2 of medium would do.",
                    where,
                )
            )
    fastest = max(at.velocity_cm_s for at in at_flows)
    usual = table("media")["usual_velocity_cm_s"]["value"]
    if fastest > usual:
        remarks.append(
            Remark(
                "note",
                f"Face velocity reaches {fastest:.1f} cm/s; media are rated near {usual:g} cm/s, and "
                "electret media let more through when air is faster.",
                where,
            )
        )
    facts = FilterFacts(
        medium=medium,
        confidence=row["resistance_pa_s_m"]["confidence"],
        resistance_pa_s_m=resistance,
        area_cm2=area_mm2 / MM2_PER_CM2,
        at_flows=tuple(at_flows),
    )
    return FilterJudgement(facts, tuple(remarks))

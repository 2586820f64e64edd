"""The numbers of a prediction in one list, each with unit, range, limit, source and confidence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from ..physics.contact_result import CAPILLARY_KPA
from ..physics.limits import limit_of
from ..physics.rebreathing import ASSUMPTIONS as CO2_ASSUMPTIONS
from ..physics.tension import TensionFound
from .result import Prediction, Spread

CONTACT_SOURCE = (
    "rigid mask on skin springs by region (skin table, measured and assumed), range from seeded draws; "
    "checked against closed formulas, not on wearers"
)
LEAK_SOURCE = "flow between parallel plates through what stays open, standards.md 5.3; seeded draws"


@dataclass(frozen=True)
class PredictedValue:
    """One number.

    Attributes
    ----------
    key : name with its unit.
    value : best single guess; None where only the range may be shown.
    low, high : range, None where none is known.
    unit : "1" for shares, counts and fit factors.
    limit : what it should not pass, or reach, in words; empty without one.
    confidence : "V" verified on a secondary page, "M" from memory, "C" computed by the stated model.
    source : where model or limit come from.
    """

    key: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    limit: str
    confidence: str
    source: str


def facts(prediction: Prediction) -> dict[str, dict[str, Any]]:
    """All numbers of a prediction by key, as plain data for JSON."""
    out = {}
    for row in values(prediction):
        plain = asdict(row)
        out[plain.pop("key")] = plain
    return out


def values(prediction: Prediction) -> tuple[PredictedValue, ...]:
    """All numbers of a prediction, in the order of the report."""
    return (
        *_contact(prediction),
        *_fit(prediction),
        *_tension(prediction),
        *_comfort(prediction),
        *_breathing(prediction),
        *_dead_space(prediction),
        *_sizing(prediction),
    )


def _row(key: str, value: float | Spread | None, unit: str, limit: str, source: str) -> PredictedValue:
    if isinstance(value, Spread):
        return PredictedValue(key, value.value, value.low, value.high, unit, limit, "C", source)
    return PredictedValue(key, value, None, None, unit, limit, "C", source)


def _contact(found: Prediction) -> Iterator[PredictedValue]:
    contact, spread = found.contact, found.spread
    if contact is None:
        return
    low, high = limit_of("pressure")["mean_aim_kpa"]
    held = found.settings.contact.breath_pa + found.settings.contact.seal_margin_pa
    closed = spread.share_closed if spread else contact.share_closed
    firm = spread.share_held if spread else contact.share_held
    peak = spread.peak_kpa if spread else contact.peak_kpa
    mean = spread.mean_kpa if spread else contact.mean_kpa
    yield _row("contact_pull_n", contact.pull_n, "N", "", "sum of the assumed strap pulls")
    yield _row("contact_force_n", contact.contact_n, "N", "", CONTACT_SOURCE)
    yield _row("contact_area_cm2", contact.contact_mm2 / 100.0, "cm2", "", CONTACT_SOURCE)
    yield _row("contact_closed_share", closed, "1", "all of the seal line touches: 1", CONTACT_SOURCE)
    yield _row("contact_held_share", firm, "1", f"presses above {held:.0f} Pa everywhere: 1", CONTACT_SOURCE)
    yield _row("contact_peak_kpa", peak, "kPa", f"at most {CAPILLARY_KPA} (32 mmHg)", CONTACT_SOURCE)
    yield _row("contact_mean_kpa", mean, "kPa", f"aim {low:g} to {high:g}", CONTACT_SOURCE)
    yield _row("contact_shift_mm", float((contact.shift_mm**2).sum() ** 0.5), "mm", "", CONTACT_SOURCE)
    yield _row("contact_turn_deg", float((contact.turn_deg**2).sum() ** 0.5), "deg", "", CONTACT_SOURCE)
    yield _row("contact_skin_strain_share", contact.largest_strain, "1", "linear to 0.33", CONTACT_SOURCE)
    yield _row("contact_balance_residual_share", contact.residual, "1", "below 1e-6", CONTACT_SOURCE)


def _fit(found: Prediction) -> Iterator[PredictedValue]:
    fit = found.fit
    if fit is None:
        return
    level = f"at least {fit.pass_level:g} in a real fit test"
    low, _, _, _, high = fit.quantiles
    # Never a single proud number: the range alone.
    yield PredictedValue("fit_factor", None, low, high, "1", level, "C", LEAK_SOURCE)
    yield _row("fit_pass_chance", fit.chance_pass, "1", "", LEAK_SOURCE)
    yield _row("fit_lost_share", fit.lost / len(fit.fit_factors), "1", "", LEAK_SOURCE)
    yield _row("leak_worst_arc_share", fit.worst_arc_share, "1", "carries half of the leak", LEAK_SOURCE)


def _tension(found: Prediction) -> Iterator[PredictedValue]:
    def total(tension: TensionFound | None) -> float | None:
        return None if tension is None else tension.total_n

    low, high = limit_of("pressure")["strap_sum_aim_n"]
    aim = f"usual {low:g} to {high:g} in all"
    if found.contact is not None:
        yield _row("tension_to_close_n", total(found.to_close), "N", aim, CONTACT_SOURCE)
        yield _row("tension_to_hold_n", total(found.to_hold), "N", aim, CONTACT_SOURCE)
        yield _row("tension_at_capillary_n", total(found.at_capillary), "N", aim, CONTACT_SOURCE)
    yield _row("tension_against_breathing_out_n", found.lift_off_n, "N", "", "standards.md section 6")


def _comfort(found: Prediction) -> Iterator[PredictedValue]:
    comfort, compared = found.comfort, found.compared
    if comfort is None:
        return
    weak = "pressure and time: weak, not from faces; see the weaknesses"
    yield _row("comfort_p95_kpa", comfort.high_kpa, "kPa", f"at most {CAPILLARY_KPA}", CONTACT_SOURCE)
    yield _row("comfort_edge_kpa", comfort.edge_kpa, "kPa", "not above the mean", CONTACT_SOURCE)
    yield _row("comfort_over_capillary_share", comfort.over_capillary, "1", "0", CONTACT_SOURCE)
    yield _row("comfort_advised_h", comfort.advised_h, "h", "", weak)
    if compared is not None:
        yield _row("comfort_narrow_edge_mean_kpa", compared.narrow.mean_kpa, "kPa", "", CONTACT_SOURCE)
        yield _row("comfort_narrow_to_wide_mean_share", compared.mean_ratio, "1", "", CONTACT_SOURCE)


def _breathing(found: Prediction) -> Iterator[PredictedValue]:
    confidence, source = found.medium_source
    for row, (low, high) in zip(found.resistance, found.resistance_range, strict=True):
        held = [c.limit for c in found.limits if (c.limit.phase, c.limit.flow_l_min) == _test_of(row)]
        held = [limit for limit in held if limit.scope == "mask with filter"]
        limit = "; ".join(f"{one.limit_pa:g} Pa: {one.name}, {one.confidence}" for one in held)
        key = f"{row.phase}_at_{row.flow_l_min:g}_l_min_pa"
        yield PredictedValue(key, row.total_pa, low, high, "Pa", limit, confidence, source)


def _test_of(row: Any) -> tuple[str, float]:
    return row.phase, row.flow_l_min


def _dead_space(found: Prediction) -> Iterator[PredictedValue]:
    dead = found.dead_space
    yield _row(
        "dead_space_chamber_ml", dead.chamber_ml, "ml", "", "volume of the solid between face and body"
    )
    yield _row("dead_space_ml", dead.total_ml, "ml", "", "chamber, bore, and space before the medium")
    rule = limit_of("carbon_dioxide")
    for breath in found.rebreathing:
        key = f"inhaled_co2_at_{breath.tidal_l:g}_l_percent"
        limit = f"{breath.limit_percent:g} ({rule['source']})"
        # The well-mixed sum is an upper bound; nothing says how far below it the truth lies.
        value, source = breath.inhaled_percent, CO2_ASSUMPTIONS[0]
        yield PredictedValue(key, value, 0.0, value, "%", limit, rule["confidence"], source)


def _sizing(found: Prediction) -> Iterator[PredictedValue]:
    if found.sizing is None:
        return
    for measure in found.sizing.measures.values():
        if measure.value_mm is not None:
            low, high = measure.value_mm - 2 * measure.error_mm, measure.value_mm + 2 * measure.error_mm
            key, value = f"{measure.name}_mm", measure.value_mm
            yield PredictedValue(key, value, low, high, "mm", "", measure.table_confidence, measure.source)

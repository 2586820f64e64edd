"""Sections of the report about what is expected: contact, leak, comfort; and the printing of the parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ...physics.exercises import EXERCISES
from ...physics.fit_range import CAUTION, QUANTILES
from ...physics.least_pull import PROCEDURE
from ...physics.statics import POSITIONS
from ...physics.weaknesses import assumptions, weaknesses
from ...predict.result import Prediction, Spread, order_of_sites
from ...predict.second_pose_result import SecondPoseCheck
from ...printing.in_place import InPlaceRing
from ...printing.plan import PrintPlan
from ...settings import settings_to


def prediction_section(prediction: Prediction | None) -> dict[str, object] | None:
    """What is expected of the mask on its wearer, as ranges where they can be given."""
    if prediction is None:
        return None
    return {
        "caution": CAUTION,
        "refusal": prediction.refusal,
        "source": " ".join(assumptions("prediction")),
        "weaknesses": [*weaknesses("contact"), *weaknesses("prediction"), *weaknesses("comfort")],
        "assumed": settings_to(prediction.settings),
        "summary": _summary(prediction),
        "hanging": _hanging(prediction),
        "positions": _positions(prediction),
        "contact": _contact(prediction),
        "fit_factor": _fit(prediction),
        "comfort": _comfort(prediction),
        "hours": _hours(prediction),
        "sites": _sites(prediction),
        "layer": _layer(prediction),
        "tension": _tension(prediction),
    }


def _contact(prediction: Prediction) -> dict[str, object] | None:
    found = prediction.contact
    if found is None:
        return None
    return {
        "pull_n": found.pull_n,
        "contact_n": found.contact_n,
        "contact_cm2": found.contact_mm2 / 100.0,
        "share_closed": found.share_closed,
        "share_held": found.share_held,
        "held_against_pa": prediction.settings.contact.breath_pa + prediction.settings.contact.seal_margin_pa,
        "peak_kpa": found.peak_kpa,
        "peak_point_mm": prediction.band.patch.points[found.peak_index],
        "mean_kpa": found.mean_kpa,
        **_ranges(prediction),
        "largest_skin_strain": found.largest_strain,
        "shift_mm": found.shift_mm,
        "turn_deg": found.turn_deg,
        "balance_residual": found.residual,
    }


def _ranges(prediction: Prediction) -> dict[str, float | None]:
    """Where nine of ten drawn wearers, scans and straps lie."""
    spread, out = prediction.spread, {}
    for name, unit in (("peak", "_kpa"), ("mean", "_kpa"), ("share_closed", ""), ("share_held", "")):
        found: Spread | None = None if spread is None else getattr(spread, name + unit)
        out[f"{name}_low{unit}"] = None if found is None else found.low
        out[f"{name}_high{unit}"] = None if found is None else found.high
    return out


def _fit(prediction: Prediction) -> dict[str, object] | None:
    fit = prediction.fit
    if fit is None:
        return None
    return {
        "quantiles": {
            f"p{round(100 * share)}": value for share, value in zip(QUANTILES, fit.quantiles, strict=True)
        },
        "pass_level": fit.pass_level,
        "quantile_errors": {
            f"p{round(100 * share)}": value
            for share, value in zip(QUANTILES, fit.quantile_errors, strict=True)
        },
        "total_quantiles": {
            f"p{round(100 * share)}": value
            for share, value in zip(QUANTILES, fit.total_quantiles, strict=True)
        },
        "chance_pass": fit.chance_pass,
        "chance_error": fit.chance_error,
        "exercises": _exercises(prediction),
        "samples": len(fit.fit_factors),
        "lost": fit.lost,
        "flow_l_min": prediction.settings.fit.leak.flow_l_min,
        "region_share": dict(fit.region_share),
        "worst_arc_stations": list(fit.worst_arc),
        "worst_arc_share": fit.worst_arc_share,
    }


def _comfort(prediction: Prediction) -> dict[str, object] | None:
    comfort = prediction.comfort
    if comfort is None:
        return None
    return {
        "high_kpa": comfort.high_kpa,
        "edge_kpa": comfort.edge_kpa,
        "edge_ratio": comfort.edge_ratio,
        "over_capillary_share": comfort.over_capillary,
        "region_peak_kpa": dict(comfort.region_peak_kpa),
        "advised_h": comfort.advised_h,
        "advice": comfort.text,
        "beside_narrow_edge": _narrow(prediction),
    }


def _summary(prediction: Prediction) -> dict[str, float] | None:
    """The line of numbers by which designs are compared."""
    return None if prediction.summary is None else vars(prediction.summary).copy()


def _hanging(prediction: Prediction) -> dict[str, object] | None:
    """Everything the straps carry."""
    found = prediction.hanging
    if found is None:
        return None
    return {
        "mass_g": found.mass_g,
        "weight_n": found.weight_n,
        "centre_mm": found.centre_mm,
        "lever_mm": found.lever_mm,
        "moment_nmm": found.moment_nmm,
        "parts": [
            {
                "part": part.name,
                "mass_g": part.mass_g,
                "centre_mm": [float(c) for c in part.centre_mm],
                "taken_from": part.taken_from,
            }
            for part in found.parts
        ],
    }


def _positions(prediction: Prediction) -> list[dict[str, object]] | None:
    """How the mask holds in every position of the head, over the draws."""
    worn = prediction.worn
    if worn is None:
        return None
    rows = []
    for number, position in enumerate(POSITIONS):
        held, kept, closed = worn.held[number], worn.kept[number].astype(bool), worn.closed[number]
        rows.append(
            {
                "position": position.text,
                "share_holding": float(np.mean((held >= 1.0 - 1e-9) & kept)),
                "share_staying": float(np.mean(kept)),
                "line_held_median": float(np.median(held)),
                "line_held_low": float(np.quantile(held, 0.05)),
                "line_touching_median": float(np.median(closed)),
            }
        )
    return rows


def _exercises(prediction: Prediction) -> dict[str, float]:
    """Median fit factor of every exercise that counts."""
    worn = prediction.worn
    if worn is None:
        return {}
    names = [exercise.key for exercise in EXERCISES if exercise.counts]
    return {name: float(np.median(values)) for name, values in zip(names, worn.exercise_factors, strict=True)}


def _hours(prediction: Prediction) -> dict[str, object] | None:
    """How long it may be worn, with what was published beside it."""
    found = prediction.hours
    if found is None:
        return None
    return {
        "low_h": found.low.value,
        "low_error_h": found.low.error,
        "typical_h": found.typical.value,
        "high_h": found.high.value,
        "worst_site": found.worst_site,
        "text": found.text,
        "breaks": found.breaks,
        "anchors": [
            {"finding": text, "confidence": confidence, "source": source}
            for text, confidence, source in found.anchors
        ],
        "sites": [vars(site).copy() for site in found.sites],
    }


def _sites(prediction: Prediction) -> dict[str, object] | None:
    """Mean pressure by site beside what was measured under other masks, and whether the order agrees."""
    worn = prediction.worn
    if worn is None:
        return None
    typical = {name: float(np.median(values[worn.good])) for name, values in worn.site_mean_kpa.items()}
    agrees, why = order_of_sites(typical)
    return {"mean_kpa": typical, "order_agrees": agrees, "order_text": why}


def _layer(prediction: Prediction) -> dict[str, object] | None:
    """Contact in which neighbours hold each other, beside the springs."""
    found, springs = prediction.layer, prediction.comfort
    if found is None or springs is None or prediction.contact is None:
        return None
    return {
        "peak_kpa": found.peak_kpa,
        "p95_kpa": found.p95_kpa,
        "mean_kpa": found.mean_kpa,
        "edge_peak_kpa": float(found.edge_kpa.max()) if len(found.edge_kpa) else None,
        "share_closed": found.share_closed,
        "slipping_share": found.slipping_share,
        "springs_peak_kpa": prediction.contact.peak_kpa,
        "springs_p95_kpa": springs.high_kpa,
        "balance_residual": found.residual,
    }


def _least(prediction: Prediction, aim: str) -> dict[str, object] | None:
    """The least pull of every strap for an aim, with what a luggage scale reads."""
    if prediction.least is None:
        return None
    found = prediction.least.hold if aim == "hold" else prediction.least.stay
    return {
        "total_n": found.total_n,
        "straps_n": list(found.pulls_n),
        "scale_kg": list(found.readings_kg),
        "share": found.share,
        "at_total_n": found.at_total_n,
    }


def _narrow(prediction: Prediction) -> dict[str, float] | None:
    """The band beside a narrow hard edge on the same face under the same straps."""
    both = prediction.compared
    if both is None:
        return None
    return {
        "narrow_mm": both.narrow_mm,
        "narrow_mean_kpa": both.narrow.mean_kpa,
        "mean_ratio": both.mean_ratio,
        "peak_ratio": both.peak_ratio,
        "area_ratio": both.area_ratio,
        "narrow_closed_share": both.narrow_closed,
    }


def _tension(prediction: Prediction) -> dict[str, object] | None:
    close, hold, capillary = prediction.to_close, prediction.to_hold, prediction.at_capillary
    if close is None or hold is None or capillary is None:
        return None
    return {
        "straps_n": float(sum(pull.tension_n for pull in prediction.pulls)),
        "against_breathing_out_n": prediction.lift_off_n,
        "least_to_hold": _least(prediction, "hold"),
        "least_to_stay": _least(prediction, "stay"),
        "how_to_set": list(PROCEDURE),
        "to_hold_n": hold.total_n,
        "to_hold": hold.text,
        "to_close_n": close.total_n,
        "to_close": close.text,
        "at_capillary_n": capillary.total_n,
        "at_capillary": capillary.text,
    }


def second_pose_section(check: SecondPoseCheck | None) -> dict[str, object] | None:
    """The same body with the face in another pose, such as the mouth open; None without a second scan."""
    if check is None:
        return None
    contact, fit = check.contact, check.fit
    held = contact is not None and fit is not None
    return {
        "closed_share": contact.share_closed if held and contact else None,
        "largest_lift_mm": float(check.lift_mm.max()) if held else None,
        "peak_kpa": contact.peak_kpa if held and contact else None,
        "fit_factor_p5": fit.quantiles[0] if held and fit else None,
        "fit_factor_p95": fit.quantiles[-1] if held and fit else None,
        "pass_chance": fit.chance_pass if held and fit else None,
        "region_lift_mm": check.region_lift_mm() if held else {},
        "still_rms_mm": check.still_rms_mm,
        "covered_share": check.covered_share,
        "slide_along_max_mm": float(np.abs(check.slide_along_mm).max()),
        "slide_across_max_mm": float(np.abs(check.slide_across_mm).max()),
        "lifted_share": float(check.lifted.mean()),
        "refusal": check.refusal,
        "weaknesses": list(weaknesses("second_pose")),
    }


def printing_section(
    plans: Mapping[str, PrintPlan] | None, rings: Sequence[InPlaceRing] = ()
) -> dict[str, object] | None:
    """The print plans of the parts with their sums, and soft rings printed in place; None without plans."""
    if not plans:
        return None
    return {
        "parts": {name: _plan(plan) for name, plan in plans.items()},
        "material_changes": [ring.as_dict() for ring in rings],
        "total_mass_g": sum(plan.mass_g for plan in plans.values()),
        "total_time_min": sum(plan.time_min for plan in plans.values()),
        "total_cost_money": sum(plan.cost_money for plan in plans.values()),
    }


def _plan(plan: PrintPlan) -> dict[str, object]:
    wall = plan.wall
    return {
        "material": plan.material,
        "layers": plan.layers,
        "layer_mm": plan.layer_mm,
        "up": plan.up,
        "size_mm": plan.size_mm,
        "fits_bed": plan.fits_bed,
        "turn_on_bed_deg": plan.turn_on_bed_deg,
        "volume_mm3": plan.volume_mm3,
        "slice_error_percent": plan.slice_error_percent,
        "mass_g": plan.mass_g,
        "time_min": plan.time_min,
        "cost_money": plan.cost_money,
        "support_free": plan.support_free,
        "ribs_mass_g": plan.ribs_mass_g,
        "overhang_mm2": plan.overhang_mm2,
        "islands": plan.count("island"),
        "bridges": plan.count("bridge"),
        "longest_bridge_mm": plan.longest("bridge"),
        "ledges": plan.count("ledge"),
        "longest_ledge_mm": plan.longest("ledge"),
        "thinnest_wall_mm": wall.width_mm,
        "thinnest_wall_is_bound": wall.at_least,
        "shrink_percent": plan.allowances.shrink_percent,
        "print_scale": plan.allowances.scale,
        "coating_mm": plan.allowances.coating_mm,
        "allowance_source": plan.allowances.source,
        "touch_up": [
            {"what": t.what, "kind": t.kind, "layer": t.layer, "point_mm": t.point_mm} for t in plan.touch_up
        ],
        "assumptions": list(plan.assumptions),
    }

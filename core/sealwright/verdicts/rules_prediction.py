"""Verdicts on what is predicted: hold, straps, fit factor, pressure, second pose."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..physics.contact_result import CAPILLARY_KPA
from ..physics.limits import limit_of
from .verdict import Verdict, graded


def prediction_verdicts(report: dict[str, Any]) -> Iterator[Verdict]:
    """Judge the predicted sections; sections that are None are passed over."""
    if report["prediction"] is not None:
        yield from _prediction(report["prediction"])
    if report["second_pose"] is not None:
        yield _second_pose(report["second_pose"])


def _prediction(section: dict[str, Any]) -> Iterator[Verdict]:
    if section["contact"] is None:
        yield Verdict(
            "prediction.refusal",
            "Predicted hold on the face",
            "fail",
            None,
            "",
            None,
            "the mask finds its balance on the face",
            section["refusal"],
            "",
            "computed",
            "C",
        )
        return
    yield _closed(section["contact"])
    if section["tension"] is not None:
        yield _straps(section["tension"])
    yield _fit_factor(section["fit_factor"])
    yield _pressure(section["comfort"], section["contact"])


def _closed(contact: dict[str, Any]) -> Verdict:
    closed, held = contact["share_closed"], contact["share_held"]
    return Verdict(
        "prediction.contact.share_held",
        "Predicted hold of the seal",
        graded(held >= 1.0, closed >= 1.0),
        held,
        "1",
        1.0,
        f"all of the line pressed harder than {contact['held_against_pa']:.0f} Pa",
        f"{100 * closed:.1f} % of the seal line touches, {100 * held:.1f} % holds against breathing out.",
        "" if held >= 1.0 else "Pull the straps tighter, move the lugs, or see the strip chart for where.",
        "doi 10.1016/j.jbiomech.2009.10.029 (margin); 42 CFR 84.172 (25 mmH2O)",
        "V",
    )


def _straps(tension: dict[str, Any]) -> Verdict:
    pull, needed = tension["straps_n"], tension["against_breathing_out_n"]
    low, high = limit_of("pressure")["strap_sum_aim_n"]
    good = needed <= pull <= high
    fix = "Pull the straps tighter." if pull < needed else "Loosen the straps or give the band more width."
    return Verdict(
        "prediction.tension.straps_n",
        "Pull of the straps",
        graded(good, pull >= needed),
        pull,
        "N",
        needed,
        f"at least {needed:.1f} N against breathing out; usual {low:g} to {high:g} N in all",
        f"The straps pull {pull:.1f} N in all; {needed:.1f} N are needed while breathing out at 85 L/min.",
        "" if good else fix,
        "pressure times area plus margin (computed); usual sum from practice",
        "C for the need, M for the usual sum",
    )


def _second_pose(section: dict[str, Any]) -> Verdict:
    lifted, lift = section["lifted_share"], section["largest_lift_mm"]
    held = lift is not None
    return Verdict(
        "second_pose.lifted_share",
        "Seal in the second pose",
        graded(held and lifted == 0.0, held and lifted <= 0.2),
        lifted,
        "1",
        0.0,
        "none of the line lifts; over 20 % of it fails (ours)",
        f"{100 * lifted:.1f} % of the line lifts, by up to {lift:.2f} mm." if held else section["refusal"],
        "" if held and lifted == 0.0 else "Move the seal line off the skin that moves, or add a soft layer.",
    )


def _fit_factor(fit: dict[str, Any]) -> Verdict:
    gates, low = limit_of("fit_factor"), fit["quantiles"]["p5"]
    good = low >= gates["pass"]
    worst = max(fit["region_share"].items(), key=lambda item: (item[1], item[0]))
    return Verdict(
        "prediction.fit_factor.quantiles",
        "Predicted range of the fit factor",
        graded(good, fit["quantiles"]["p75"] >= gates["pass"]),
        low,
        "1",
        float(gates["pass"]),
        f"19 of 20 cases reach the {gates['pass']} asked of a half mask; under 1 in 4 fails (ours)",
        f"Between about {_rough(low)} and {_rough(fit['quantiles']['p95'])} for 9 of 10 plausible wearers, "
        f"scans and straps; {100 * fit['chance_pass']:.0f} % reach {gates['pass']}. "
        f"{100 * worst[1]:.0f} % of the leak is at the {worst[0].replace('_', ' ')}.",
        "" if good else "Add a soft layer of 1.5 to 2 mm under the band; a better scan narrows the range.",
        gates["pass_source"],
        gates["pass_confidence"],
    )


def _rough(factor: float) -> str:
    """A fit factor in two digits: it is not known any better."""
    return f"{float(f'{factor:.2g}'):.0f}"


def _pressure(comfort: dict[str, Any], contact: dict[str, Any]) -> Verdict:
    high, over = comfort["high_kpa"], comfort["over_capillary_share"]
    peak = max(comfort["region_peak_kpa"].items(), key=lambda item: (item[1], item[0]))
    return Verdict(
        "prediction.comfort.high_kpa",
        "Predicted pressure on the skin",
        graded(high <= CAPILLARY_KPA, over <= 0.5),
        high,
        "kPa",
        CAPILLARY_KPA,
        f"95 % of the touching skin under {CAPILLARY_KPA} kPa (32 mmHg); over half of it above fails",
        f"95 % of the skin stays under {high:.1f} kPa, mean {contact['mean_kpa']:.1f} kPa; the highest, "
        f"{peak[1]:.1f} kPa, is at the {peak[0].replace('_', ' ')}. Advised: {comfort['advised_h']:.1f} h.",
        "" if high <= CAPILLARY_KPA else "Loosen the straps, widen the band, or ease the place of the peak.",
        "Landis 1930 as cited by a secondary paper; thresholds of 10 to 40 mmHg are reported",
        "V",
    )

"""Verdicts: each rule fires on a harmed number, and a clean one passes; nothing is ever released for use."""

from __future__ import annotations

import pytest
from sealwright.verdicts.rules_prediction import prediction_verdicts
from sealwright.verdicts.rules_shape import shape_verdicts
from sealwright.verdicts.rules_use import use_verdicts
from sealwright.verdicts.verdict import graded, summary_of

from . import samples


def judged(change=None):
    report = samples.report()
    if change is not None:
        change(report)
    return {v.key: v for v in (*shape_verdicts(report), *use_verdicts(report), *prediction_verdicts(report))}


def put(path, value):
    def change(report):
        *steps, last = path.split(".")
        for step in steps:
            report = report[step]
        report[last] = value

    return change


def both(*changes):
    return lambda report: [change(report) for change in changes]


@pytest.mark.parametrize(
    ("change", "key", "verdict"),
    [
        (put("scan.noise_mm", 0.9), "scan.noise_mm", "warn"),
        (put("scan.noise_mm", 1.6), "scan.noise_mm", "fail"),
        (put("scan.guessed_share_under_band", 0.02), "scan.guessed_share_under_band", "warn"),
        (put("scan.guessed_share_under_band", 0.2), "scan.guessed_share_under_band", "fail"),
        (put("scan.band_to_scan_p95_mm", 0.5), "scan.band_to_scan_p95_mm", "warn"),
        (put("landmarks.menton.confidence", 0.5), "landmarks", "warn"),
        (put("landmarks.menton.confidence", 0.1), "landmarks", "fail"),
        (both(put("contact.share", 0.9), put("contact.gap_max_mm", 0.3)), "contact.share", "fail"),
        (
            both(
                put("contact.share", 0.9), put("contact.gap_max_mm", 0.3), put("scan.smoothing_bound_mm", 0.3)
            ),
            "contact.share",
            "warn",
        ),
        (put("contact.band_width_min_mm", 12.0), "contact.band_width_min_mm", "warn"),
        (put("contact.band_width_min_mm", 3.0), "contact.band_width_min_mm", "fail"),
        (put("clearance.entry_mm", 0.06), "clearance.entry_mm", "fail"),
        (
            both(put("clearance.entry_mm", 0.06), put("scan.smoothing_bound_mm", 0.1)),
            "clearance.entry_mm",
            "warn",
        ),
        (
            both(put("clearance.entry_mm", 0.16), put("scan.smoothing_bound_mm", 0.1)),
            "clearance.entry_mm",
            "fail",
        ),
        (put("clearance.nose_lips_mm", 4.0), "clearance.nose_lips_mm", "warn"),
        (put("clearance.nose_lips_mm", 1.0), "clearance.nose_lips_mm", "fail"),
        (put("wall.min_mm", 2.0), "wall.min_mm", "warn"),
        (put("wall.min_mm", 1.8), "wall.min_mm", "fail"),
        (
            both(
                put("parts.body.soundness.sound", False),
                put("parts.body.soundness.problems", ["3 open edges"]),
            ),
            "parts.body.soundness",
            "fail",
        ),
        (put("hardware.lug.lug_safety_factor", 1.2), "hardware.lug.lug_safety_factor", "warn"),
        (put("hardware.lug.lug_safety_factor", 0.9), "hardware.lug.lug_safety_factor", "fail"),
        (put("hardware.holder.holder_mass_solid_g", 301.0), "hardware.holder.holder_mass_solid_g", "fail"),
        (put("hardware.holder.thread_engaged_turns", 1.0), "hardware.holder.thread_engaged_turns", "fail"),
        (put("second_pose.lifted_share", 0.1), "second_pose.lifted_share", "warn"),
        (put("second_pose.lifted_share", 0.3), "second_pose.lifted_share", "fail"),
        (
            both(put("second_pose.largest_lift_mm", None), put("second_pose.refusal", "It slides.")),
            "second_pose.lifted_share",
            "fail",
        ),
        # Straps: needed against breathing out; 5 to 20 N usual in all (practice, M).
        (put("prediction.tension.straps_n", 25.0), "prediction.tension.straps_n", "warn"),
        (put("prediction.tension.straps_n", 0.5), "prediction.tension.straps_n", "fail"),
        (put("prediction.contact.share_held", 0.5), "prediction.contact.share_held", "warn"),
        # Gates of the fit factor: pass 100 (29 CFR 1910.134 App A, V), the range must reach it as a whole.
        (put("prediction.fit_factor.quantiles.p5", 120.0), "prediction.fit_factor.quantiles", "pass"),
        (
            both(
                put("prediction.fit_factor.quantiles.p5", 20.0),
                put("prediction.fit_factor.quantiles.p75", 90.0),
            ),
            "prediction.fit_factor.quantiles",
            "fail",
        ),
        # Capillary closing pressure 32 mmHg = 4.27 kPa (V, range wide).
        (put("prediction.comfort.high_kpa", 4.2), "prediction.comfort.high_kpa", "pass"),
        (
            both(
                put("prediction.comfort.high_kpa", 9.0), put("prediction.comfort.over_capillary_share", 0.7)
            ),
            "prediction.comfort.high_kpa",
            "fail",
        ),
        (
            both(put("prediction.contact", None), put("prediction.refusal", "It slides.")),
            "prediction.refusal",
            "fail",
        ),
    ],
)
def test_rules_fire(change, key, verdict):
    found = judged(change)[key]
    assert found.verdict == verdict
    if verdict != "pass" and key != "prediction.refusal":
        assert found.fix.endswith(".")


def test_resistance_rule_grades_by_the_worst_limit():
    def scaled(factor):
        def change(report):
            for row in report["breathing"]["limits"]:
                row["value_pa"] = factor * row["limit_pa"]
                row["kept"] = factor <= 1.0

        return judged(change)["breathing.limits.inhalation"].verdict

    assert [scaled(f) for f in (0.9, 1.2, 1.6)] == ["pass", "warn", "fail"]


def test_rebreathing_rule_fails_over_one_percent():
    # EN 149 7.12: mean inhaled carbon dioxide at most 1.0 % (from memory, agrees with one secondary page).
    def change(report):
        report["breathing"]["carbon_dioxide"][0].update(inhaled_percent=1.2, kept=False)

    assert judged(change)["breathing.carbon_dioxide"].verdict == "fail"


def test_every_verdict_has_reason_limit_and_source():
    for verdict in judged().values():
        assert verdict.verdict in ("pass", "warn", "fail")
        assert verdict.reason and verdict.limit_text and verdict.source and verdict.confidence
        assert bool(verdict.fix) == (verdict.verdict != "pass")


def test_summary_puts_failures_first_and_never_releases():
    rows = [
        {"verdict": word, "topic": word.upper(), "reason": "r.", "fix": "f."}
        for word in ("pass", "warn", "fail")
    ]
    for taken in (rows, rows[:2], rows[:1]):
        summary = summary_of(taken)
        assert summary["verdict"] == taken[-1]["verdict"]
        assert "fit test" in summary["headline"] or "Do not print" in summary["headline"]
    assert summary_of(rows)["do_first"] == ["FAIL: r. f.", "WARN: r. f."]
    assert graded(False, False) == "fail"

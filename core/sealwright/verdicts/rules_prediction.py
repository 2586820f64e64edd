"""Rules on what is predicted: hold, straps, fit factor, pressure, second pose."""

from __future__ import annotations

from collections.abc import Iterator

from ..limits import limit
from ..predict.targets import HOLDING, PRESSURE, REACHING
from .measured import HoldMeasured, Measured
from .rule import Finding, Rule, at_least, at_most, is_true
from .tried_words import tried_words


def _hold(measured: Measured) -> HoldMeasured | None:
    return measured.prediction.hold if measured.prediction is not None else None


def _refusal(measured: Measured) -> Iterator[Finding]:
    if measured.prediction is None or measured.prediction.hold is not None:
        return
    yield Finding(
        key="prediction.refusal",
        value=None,
        unit="",
        limit=None,
        basis=limit("balance"),
        passes=(is_true(False),),
        bears=None,
        words={"refusal": measured.prediction.refusal},
    )


def _held(measured: Measured) -> Iterator[Finding]:
    hold, good = _hold(measured), limit("hold_share")
    if hold is None:
        return
    yield Finding(
        key="prediction.summary.share_holding",
        value=hold.share_holding,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_least(hold.share_holding, good),),
        bears=(at_least(hold.share_holding, limit("hold_share_least")),),
        share=True,
        words={
            "good": 100 * good.value,
            "holding": 100 * hold.share_holding,
            "staying": 100 * hold.share_staying,
            "position": hold.weakest[0],
            "least": 100 * hold.weakest[1],
            "tried": tried_words(hold.tried, HOLDING),
        },
    )


def _straps(measured: Measured) -> Iterator[Finding]:
    hold, low, high = _hold(measured), limit("strap_sum_low"), limit("strap_sum_high")
    if hold is None:
        return
    enough = at_least(hold.straps_n, hold.needed_n)
    yield Finding(
        key="prediction.tension.straps_n",
        value=hold.straps_n,
        unit="N",
        limit=hold.needed_n,
        basis=limit("strap_sum_needed"),
        passes=(enough, at_most(hold.straps_n, high)),
        bears=(enough,),
        words={
            "needed": hold.needed_n,
            "low": low.value,
            "high": high.value,
            "pull": hold.straps_n,
            "flow": limit("breath_out_flow").value,
            "share": 100 * limit("hold_share").value,
            "pressure": hold.median_p95_kpa,
        },
        reason=_reason_of_pull(hold),
        fix="fix_loosen" if enough.holds else "fix",
    )


def _reason_of_pull(hold: HoldMeasured) -> str:
    """Who decided the pull, and what ended the search for it."""
    if not hold.automatic_pull:
        return "reason"
    enough = at_least(hold.share_holding, limit("hold_share"))
    return "reason_automatic" if enough.holds else "reason_kept_back"


def _fit_factor(measured: Measured) -> Iterator[Finding]:
    hold, good = _hold(measured), limit("fit_factor")
    if hold is None:
        return
    region, share = hold.leaks_most
    yield Finding(
        key="prediction.fit_factor.quantiles",
        value=hold.fit_p5,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_least(hold.fit_p5, good),),
        bears=(at_least(hold.fit_p75, good),),
        words={
            "good": good.value,
            "low": _two_digits(hold.fit_p5),
            "high": _two_digits(hold.fit_p95),
            "chance": 100 * hold.chance_pass,
            "share": 100 * share,
            "region": region.replace("_", " "),
            "tried": tried_words(hold.tried, REACHING),
        },
    )


def _two_digits(factor: float) -> float:
    """A fit factor is not known any better."""
    return float(f"{factor:.2g}")


def _pressure(measured: Measured) -> Iterator[Finding]:
    hold, most, over = _hold(measured), limit("skin_pressure"), limit("skin_pressure_share")
    if hold is None:
        return
    region, peak = hold.presses_most
    yield Finding(
        key="prediction.comfort.high_kpa",
        value=hold.high_kpa,
        unit="kPa",
        limit=most.value,
        basis=most,
        passes=(at_most(hold.high_kpa, most),),
        bears=(at_most(hold.over_capillary_share, over),),
        words={
            "most": most.value,
            "over": 100 * over.value,
            "high": hold.high_kpa,
            "mean": hold.mean_kpa,
            "peak": peak,
            "region": region.replace("_", " "),
            "hours": hold.advised_h,
            "tried": tried_words(hold.tried, PRESSURE),
        },
    )


def _second_pose(measured: Measured) -> Iterator[Finding]:
    pose, none, some = (
        measured.second_pose,
        limit("pose_lifted_share"),
        limit("pose_lifted_share_bearable"),
    )
    if pose is None:
        return
    held, lift = is_true(pose.largest_lift_mm is not None), pose.largest_lift_mm or 0.0
    yield Finding(
        key="second_pose.lifted_share",
        value=pose.lifted_share,
        unit="1",
        limit=none.value,
        basis=none,
        passes=(held, at_most(pose.lifted_share, none)),
        bears=(held, at_most(pose.lifted_share, some)),
        share=True,
        words={
            "some": 100 * some.value,
            "percent": 100 * pose.lifted_share,
            "lift": lift,
            "refusal": pose.refusal,
        },
        reason="reason" if held.holds else "reason_refused",
    )


PREDICTION_RULES = (
    Rule("prediction.refusal", _refusal),
    Rule("prediction.summary.share_holding", _held),
    Rule("prediction.tension.straps_n", _straps),
    Rule("prediction.fit_factor.quantiles", _fit_factor),
    Rule("prediction.comfort.high_kpa", _pressure),
    Rule("second_pose.lifted_share", _second_pose),
)

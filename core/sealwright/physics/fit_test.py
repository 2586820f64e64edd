"""The measured fit test beside the prediction: overall fit factor, gates, comparison.

The overall fit factor is the harmonic mean of the exercises that count (29 CFR 1910.134 Appendix A, from
memory).
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import BadRecipe, Where
from ..limits import limit
from ..values import require_range
from .exercises import EXERCISES

SMALLEST_FACTOR = 1.0
LARGEST_FACTOR = 1e6

CAUTION = (
    "Only a fit test by a competent person with a proper instrument says whether this mask fits this wearer. "
    "Repeat it every year and after any change of weight, teeth or face."
)


@dataclass(frozen=True)
class FitTest:
    """A fit test as it was measured.

    Attributes
    ----------
    factors : exercise key -> fit factor; a missing exercise was not done.
    date : ISO 8601 day, "YYYY-MM-DD", or empty.
    tester, instrument, notes : free text; no name of the wearer belongs in here.
    wearer : the label chosen by the maker.
    """

    factors: Mapping[str, float]
    date: str = ""
    tester: str = ""
    instrument: str = ""
    wearer: str = ""
    notes: str = ""


@dataclass(frozen=True)
class FitVerdict:
    """What a fit test says.

    Attributes
    ----------
    overall : harmonic mean of the exercises that count, None while one is missing.
    lowest : key and fit factor of the worst exercise done, None when none was.
    verdict : "pass", "warn", "fail" or "incomplete".
    missing : keys of the exercises not done.
    text : one sentence.
    caution : to be shown with it.
    """

    overall: float | None
    lowest: tuple[str, float] | None
    verdict: str
    missing: tuple[str, ...]
    text: str
    caution: str = CAUTION


@dataclass(frozen=True)
class Comparison:
    """Measured overall fit factor beside the predicted range.

    Attributes
    ----------
    measured, low, median, high : fit factors; low and high are the outer quantiles of the prediction.
    place : "inside", "below" or "above" the range.
    text : one sentence.
    """

    measured: float
    low: float
    median: float
    high: float
    place: str
    text: str


def check_fit_test(test: FitTest) -> None:
    """Check exercises, numbers and date of a fit test.

    Raises
    ------
    BadRecipe : unknown exercise, a fit factor outside 1 to 1,000,000, or a date that is none.
    """
    known = {exercise.key for exercise in EXERCISES}
    for key, factor in test.factors.items():
        if key not in known:
            raise BadRecipe(
                f"The fit test has the unknown exercise {key!r}.",
                Where("fit test", key=f"factors.{key}"),
                "Use one of: " + ", ".join(exercise.key for exercise in EXERCISES) + ".",
            )
        require_range(factor, SMALLEST_FACTOR, LARGEST_FACTOR, "1", f"fit_test.factors.{key}")
    if test.date:
        try:
            datetime.date.fromisoformat(test.date)
        except ValueError as error:
            raise BadRecipe(
                f"The date {test.date!r} of the fit test is no day.",
                Where("fit test", key="date"),
                "Write it as YYYY-MM-DD.",
            ) from error


def overall_fit_factor(factors: Mapping[str, float]) -> float | None:
    """Overall fit factor n / sum(1 / ff) over the exercises that count; None while one of them is missing.

    Raises
    ------
    BadRecipe : see `check_fit_test`.
    """
    check_fit_test(FitTest(factors))
    counted = [exercise.key for exercise in EXERCISES if exercise.counts]
    if any(key not in factors for key in counted):
        return None
    return harmonic_mean([float(factors[key]) for key in counted])


def harmonic_mean(factors: list[float]) -> float:
    """Count over the sum of reciprocals.

    Raises
    ------
    BadRecipe : no number at all, or one that is no fit factor.
    """
    require_range(len(factors), 1, 1000, "1", "number of fit factors")
    checked = [require_range(f, SMALLEST_FACTOR, LARGEST_FACTOR, "1", "fit factor") for f in factors]
    return len(checked) / sum(1.0 / factor for factor in checked)


def judge_fit_test(test: FitTest) -> FitVerdict:
    """Overall fit factor and verdict: half mask pass at 100, warn from 50, fail below.

    The pass level is that of 29 CFR 1910.134 App A; the warning is a choice of ours. A test with a missing
    exercise never passes.

    Raises
    ------
    BadRecipe : see `check_fit_test`.
    """
    check_fit_test(test)
    good, near = limit("fit_factor").value, limit("fit_factor_near_miss").value
    missing = tuple(e.key for e in EXERCISES if e.key not in test.factors)
    lowest = min(test.factors.items(), key=lambda item: (item[1], item[0]), default=None)
    overall = overall_fit_factor(test.factors)
    if overall is None or missing:
        text = f"The fit test is not complete: {', '.join(missing)} not done."
        return FitVerdict(overall, lowest, "incomplete", missing, text)
    # A harmonic mean of equal numbers comes out a rounding error short of them.
    reached = overall * (1.0 + 1e-12)
    if reached >= good:
        verdict, meaning = "pass", f"at or above the {good:g} asked of a half mask"
    elif reached >= near:
        verdict, meaning = "warn", f"below the {good:g} asked of a half mask: it did not pass"
    else:
        verdict, meaning = "fail", f"below {near:g}: it leaks badly"
    return FitVerdict(overall, lowest, verdict, (), f"Overall fit factor {overall:.0f}, {meaning}.")


def compare_with_prediction(measured: float, quantiles: tuple[float, ...]) -> Comparison:
    """Where a measured fit factor lies in the predicted range.

    Parameters
    ----------
    measured : overall fit factor.
    quantiles : rising fit factors of the prediction, at least three (lowest, ..., median, ..., highest).

    Raises
    ------
    BadRecipe : numbers that are no fit factors, fewer than three, or not rising.
    """
    value = require_range(measured, SMALLEST_FACTOR, LARGEST_FACTOR, "1", "measured fit factor")
    if len(quantiles) < 3 or list(quantiles) != sorted(quantiles):
        raise BadRecipe(
            f"The predicted range {quantiles!r} is no rising list of at least three fit factors.",
            Where("fit test", key="prediction"),
            "Give the quantiles of the prediction.",
        )
    low, median, high = quantiles[0], quantiles[len(quantiles) // 2], quantiles[-1]
    span = f"the predicted {low:.0f} to {high:.0f}"
    if value < low:
        place = "below"
        text = f"Measured {value:.0f} lies below {span}: look for hair, a wrong scan, or loose straps."
    elif value > high:
        place, text = "above", f"Measured {value:.0f} lies above {span}: the prediction was too careful here."
    else:
        place, text = "inside", f"Measured {value:.0f} lies inside {span}."
    return Comparison(value, float(low), float(median), float(high), place, text)

"""Fit test: harmonic mean against the worked number, gates, missing exercises, comparison."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.physics.exercises import EXERCISES
from sealwright.physics.fit_test import (
    FitTest,
    compare_with_prediction,
    harmonic_mean,
    judge_fit_test,
    overall_fit_factor,
)

SEVEN = [200, 150, 80, 120, 100, 90, 200]


def measured(values=SEVEN, grimace=20.0):
    keys = [e.key for e in EXERCISES if e.counts]
    return {**dict(zip(keys, map(float, values), strict=True)), "grimace": grimace}


def test_protocol_is_that_of_the_appendix():
    # V: pmc.ncbi.nlm.nih.gov/articles/PMC7114945 table I; eight exercises, 60 s each, grimace 15 s.
    assert len(EXERCISES) == 8
    assert sum(e.seconds for e in EXERCISES) == 7 * 60 + 15
    assert [e.key for e in EXERCISES if not e.counts] == ["grimace"]
    assert [e.seconds for e in EXERCISES if e.key == "grimace"] == [15]


def test_overall_is_the_harmonic_mean_of_seven():
    # docs/standards section 5, check 5 (C): 119.4, not the mean 134.3.
    assert harmonic_mean(SEVEN) == pytest.approx(119.4, abs=0.1)
    assert overall_fit_factor(measured()) == pytest.approx(119.4, abs=0.1)
    assert overall_fit_factor(measured(grimace=1.0)) == overall_fit_factor(measured(grimace=5000.0))
    assert judge_fit_test(FitTest(measured())).lowest == ("grimace", 20.0)


@pytest.mark.parametrize(
    ("value", "verdict"), [(100.0, "pass"), (99.9, "warn"), (50.0, "warn"), (49.9, "fail"), (1.0, "fail")]
)
def test_gates(value, verdict):
    # docs/standards 9, check 3: pass >= 100, warn 50 to 99, fail < 50 (project choice).
    found = judge_fit_test(FitTest(measured([value] * 7)))
    assert found.verdict == verdict
    assert found.overall == pytest.approx(value)
    assert "competent person" in found.caution


def test_one_bad_exercise_pulls_the_overall_down():
    assert (
        judge_fit_test(FitTest(measured([1000] * 6 + [12]))).verdict == "warn"
    )  # 7 / (6/1000 + 1/12) = 78.4


@pytest.mark.parametrize("key", ["talking", "grimace"])
def test_a_missing_exercise_never_passes(key):
    factors = measured([500] * 7)
    del factors[key]
    found = judge_fit_test(FitTest(factors))
    assert found.verdict == "incomplete"
    assert found.missing == (key,)
    assert judge_fit_test(FitTest({})).lowest is None


def test_comparison_with_the_prediction():
    quantiles = (20.0, 60.0, 150.0, 300.0, 900.0)
    assert compare_with_prediction(120.0, quantiles).place == "inside"
    assert compare_with_prediction(10.0, quantiles).place == "below"
    assert compare_with_prediction(1000.0, quantiles).place == "above"
    assert compare_with_prediction(120.0, quantiles).median == 150.0
    with pytest.raises(BadRecipe, match="rising"):
        compare_with_prediction(120.0, (5.0, 3.0, 9.0))


@pytest.mark.parametrize(
    ("test", "text"),
    [
        (FitTest({"jumping": 100.0}), "jumping"),
        (FitTest({"talking": 0.5}), "from 1 to 1e"),
        (FitTest({"talking": float("nan")}), "from 1"),
        (FitTest({"talking": 100.0}, date="31.12.2025"), "YYYY-MM-DD"),
    ],
)
def test_refusals(test, text):
    with pytest.raises(BadRecipe, match=text):
        judge_fit_test(test)

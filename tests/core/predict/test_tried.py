"""What would change a design: every row can be had by hand, and no row is printed that does not help."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import pytest
import sealwright.predict.tried as tried_module
from sealwright.designing.design import Design
from sealwright.designing.sketch import sketch
from sealwright.errors import BandFolds
from sealwright.limits import limit
from sealwright.physics.prediction_settings import PredictionSettings, StrapAssumptions
from sealwright.predict.assumed import with_cushion
from sealwright.predict.result import Prediction
from sealwright.predict.targets import TARGETS
from sealwright.predict.tried import Tried, remedies_of, tried_steps
from sealwright.progress import run_to_end
from sealwright.recipe import BARE, Recipe, bare_of, recipe_from_json, recipe_to_json, with_values
from sealwright.verdicts.tried_words import told_of, tried_words
from to_the_end import predict

from .wearers import invented

DRAWS = 128
START = with_values(Recipe(), {"cushion.thickness_mm": 8.0, "band.width_mm": 22.0, "straps.tension_n": 4.5})


@cache
def predicted(recipe: Recipe) -> tuple[Design, Prediction]:
    """A sketch and its whole prediction, the way a report is made, with as many draws as are tried.

    The straps share the pull alike: an automatic share is that of the design in every row.
    """
    assumed = PredictionSettings(straps=StrapAssumptions(upper_share=0.5))
    assumed = replace(assumed, fit=replace(assumed.fit, samples=DRAWS))
    design = sketch(invented(), recipe)
    return design, predict(design, with_cushion(assumed, recipe.cushion))


@cache
def tried() -> Tried:
    found = run_to_end(tried_steps(*predicted(START)))
    assert found is not None
    return found


def by_hand(values) -> Recipe:
    """The recipe with the keys of a row written into its JSON text, as a maker does it."""
    data = json.loads(recipe_to_json(START))
    for key, value in values.items():
        part, name = key.split(".")
        data[part][name] = value
    return recipe_from_json(data)


@pytest.mark.heavy
def test_rows_are_what_the_whole_prediction_says_of_the_changed_recipe():
    best, bare = tried().rows[1], tried().rows[-1]
    assert (best.role, bare.role) == ("remedy", "bare")
    for row in (tried().design, best, bare):
        summary = predicted(by_hand(row.values))[1].summary
        for target in TARGETS:
            # the same draws on the same sketch: only rounding in the order of sums is between them
            assert row.numbers[target.key] == pytest.approx(getattr(summary, target.key), rel=1e-6)


@pytest.mark.heavy
def test_only_what_helps_is_listed_best_first():
    start, found = tried().design.numbers, tried()
    assert found.missed and found.draws == DRAWS
    remedies = [row for row in found.rows if row.role == "remedy"]
    assert 0 < len(remedies) < found.remedies
    gains = []
    for row in remedies:
        short = {t.key: (t.short(start[t.key]), t.short(row.numbers[t.key])) for t in TARGETS}
        assert row.helps and all(short[key][1] < short[key][0] and key in found.missed for key in row.helps)
        assert all(after == 0.0 for before, after in short.values() if before == 0.0)
        gains.append(sum(short[key][0] - short[key][1] for key in found.missed))
    assert gains == sorted(gains, reverse=True)
    # Loosening lets go where hold is missed already: it was tried, and stands in no row.
    slack = {"straps.tension_n": 3.5}
    assert any(dict(remedy.values) == slack for remedy in remedies_of(START, 4.5, 0.0))
    assert all(dict(row.values) != slack for row in remedies)
    less = predicted(by_hand(slack))[1].summary
    assert less is not None and less.share_holding < start["share_holding"]


@pytest.mark.heavy
def test_nothing_missed_leaves_the_comparison_only():
    design, prediction = predicted(START)
    assert prediction.summary and prediction.comfort and prediction.fit
    kept = replace(
        prediction,
        summary=replace(prediction.summary, pressure_p95_kpa=1.0, share_holding=1.0, share_reaching_100=1.0),
        comfort=replace(prediction.comfort, high_kpa=1.0),
        fit=replace(prediction.fit, quantiles=(200.0,) * 5),
    )
    found = run_to_end(tried_steps(design, kept, 8))
    assert found is not None and [row.role for row in found.rows] == ["design", "bare"]
    assert found.remedies == 0 and "no remedy was tried" in told_of(found)


@pytest.mark.heavy
def test_remedy_that_cannot_be_built_is_named(monkeypatch):
    """One that the facepiece refuses is neither worn nor passed over without a word."""
    design, prediction = predicted(START)
    whole = tried_module.sketch

    def refused_when_wide(prepared, recipe, *rest):
        if recipe.band.width_mm > START.band.width_mm:
            raise BandFolds("The band folds.", "contact band", "Choose a narrower band.")
        return whole(prepared, recipe, *rest)

    monkeypatch.setattr(tried_module, "sketch", refused_when_wide)
    found = run_to_end(tried_steps(design, prediction, 8))
    assert found is not None and "band 25 mm wide" in found.not_worn
    assert found.remedies + len(found.not_worn) == len(remedies_of(START, 4.5, prediction.lift_off_n))
    assert "Not built on this wearer, or without hold: band 25 mm wide;" in told_of(found)


def test_remedies_stay_within_the_recipe_and_the_usual_pull():
    widest = with_values(START, {"cushion.thickness_mm": 14.0, "straps.tension_n": 5.0})
    keys = [set(remedy.values) for remedy in remedies_of(widest, 5.0, 0.0)]
    assert {"cushion.thickness_mm"} not in keys  # 16 mm is past the range
    most = limit("strap_sum_high").value / widest.straps.lug.count
    assert all(r.values.get("straps.tension_n", 0.0) <= most for r in remedies_of(widest, 5.0, 0.0))
    assert {"straps.tension_n"} not in [
        set(r.values) for r in remedies_of(widest, 5.0, 19.0)
    ]  # 16 N is too loose
    bare = bare_of(START)
    assert bare.cushion.kind == "none" and remedies_of(bare, 4.0, 0.0)[0].values["cushion.kind"] == "foam"
    assert bare.band.width_mm == BARE["band.width_mm"] and bare_of(bare) == bare


def test_words_name_only_what_was_tried():
    pressure = TARGETS[0]
    assert tried_words(None, pressure).startswith("What would ease it was not tried")
    from report.samples import tried as made_up

    found = made_up()
    assert "foam strip 10 mm thick brings the 95 % pressure from 5.0 kPa to 4.5 kPa" in tried_words(
        found, pressure
    )
    assert tried_words(found, TARGETS[2]).startswith("Nothing of the 6 changes tried")
    # The made-up best row leaves pressure (4.5 over 4.27 kPa) and hold (0.8 under 0.95) missed, not the seal.
    assert told_of(found).startswith("Of 6 remedies tried")
    assert "Still missed with the first of them: the 95 % pressure, the cases that hold;" in told_of(found)
    none = replace(found, rows=(found.rows[0], found.rows[-1]))
    assert "none is advised" in told_of(none)

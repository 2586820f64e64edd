"""The automatic pull of the straps: the least that holds in enough draws, kept back for the skin."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
import sealwright.predict.settled_pull as settled_module
from sealwright.designing.design import Design
from sealwright.designing.prepare import prepare
from sealwright.designing.sketch import sketch
from sealwright.limits import Limit, limit
from sealwright.predict.assumed import assumed_of
from sealwright.predict.result import Prediction
from sealwright.predict.straps import EVEN_SHARE, STARTING_N
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, bare_of, with_values
from to_the_end import predict

from .wearers import invented, scan

pytestmark = [pytest.mark.heavy, pytest.mark.scans]
DRAWS = 256
SEARCH = 1.03
"""The search ends in steps of 2.5 %; so much less pull is surely the step before."""


def worn_by(design: Design, upper_share: float | None = None) -> Prediction:
    """A design on a few draws, its straps shared as given or as most hold."""
    assumed = assumed_of(design.recipe)
    straps = replace(assumed.straps, upper_share=upper_share)
    return predict(design, replace(assumed, straps=straps, fit=replace(assumed.fit, samples=DRAWS)))


@cache
def designed() -> Design:
    """The default on an open scan on which it holds below the bound of pressure."""
    return sketch(run_to_end(prepare(scan("face-m36.ply"), Recipe())), Recipe())


@cache
def automatic() -> Prediction:
    assert Recipe().straps.tension_n is None
    return worn_by(designed())


def by_hand(pull_n: float) -> Prediction:
    """The same mask with the pull written into its recipe."""
    return worn_by(pulled(designed(), pull_n))


def pulled(design: Design, pull_n: float) -> Design:
    return replace(design, recipe=with_values(design.recipe, {"straps.tension_n": pull_n}))


def test_it_is_the_least_that_holds():
    found = automatic()
    assert found.automatic_pull and found.summary.share_holding >= limit("hold_share").value
    assert found.summary.pressure_p95_kpa <= limit("pull_pressure").value
    assert by_hand(found.pull_n / SEARCH).summary.share_holding < limit("hold_share").value


def test_the_same_number_by_hand_is_the_same_mask():
    found, same = automatic(), by_hand(automatic().pull_n)
    assert not same.automatic_pull
    assert same.summary.strap_pull_n == pytest.approx(sum(p.tension_n for p in found.pulls))
    # the same draws under the same pull: only rounding is between them
    assert same.summary.share_holding == found.summary.share_holding
    assert same.contact.contact_n == pytest.approx(found.contact.contact_n, rel=1e-9)


def test_both_sides_pull_alike_and_the_least_pull_is_the_same_number():
    found, share = automatic(), automatic().settings.straps.upper_share
    upper, lower = ([p.tension_n for p in pair] for pair in (found.pulls[:2], found.pulls[2:]))
    assert upper == pytest.approx([0.5 * share * found.summary.strap_pull_n] * 2)
    assert lower == pytest.approx([0.5 * (1.0 - share) * found.summary.strap_pull_n] * 2)
    assert found.least.hold.total_n == pytest.approx(found.summary.strap_pull_n)
    assert found.least.hold.share == found.summary.share_holding


@cache
def uneven() -> Prediction:
    """The default on a head on which the upper straps are better pulled harder than the lower ones."""
    return worn_by(sketch(invented(), Recipe()))


def test_upper_and_lower_straps_share_the_pull_as_most_draws_hold_under_the_same_pressure():
    found, laid = uneven(), sketch(invented(), Recipe())
    upper, lower = (sum(p.tension_n for p in pair) for pair in (found.pulls[:2], found.pulls[2:]))
    share = found.settings.straps.upper_share
    assert upper / (upper + lower) == pytest.approx(share) and share != EVEN_SHARE
    even = worn_by(pulled(laid, found.pull_n), EVEN_SHARE)
    harder = even.summary.pressure_p95_kpa / found.summary.pressure_p95_kpa
    even = worn_by(pulled(laid, found.pull_n / harder), EVEN_SHARE)
    # pressure is nearly in proportion to the pull
    assert even.summary.pressure_p95_kpa == pytest.approx(found.summary.pressure_p95_kpa, rel=0.02)
    assert found.summary.share_holding > even.summary.share_holding


@pytest.mark.parametrize("most_kpa", [3.4, 3.9])
def test_skin_that_would_be_pressed_too_hard_keeps_it_back(most_kpa: float, monkeypatch):
    """Bounds well below what the hold asks for: the pull then stands just under the bound, and says so."""
    whole, usual = settled_module.limit, automatic()

    def bounded(key: str) -> Limit:
        return replace(whole(key), value=most_kpa) if key == "pull_pressure" else whole(key)

    monkeypatch.setattr(settled_module, "limit", bounded)
    found = worn_by(designed())
    assert found.summary.share_holding < limit("hold_share").value
    assert 0.9 * most_kpa < found.summary.pressure_p95_kpa <= most_kpa
    assert found.pull_n < usual.pull_n


def test_a_rigid_band_is_not_left_hanging():
    """No pull that holds is below the bound there: it is kept back so far, and the numbers say the cost."""
    loose = with_values(bare_of(Recipe()), {"straps.tension_n": None})
    found = worn_by(sketch(designed().prepared, loose))
    assert found.pull_n == pytest.approx(0.75 * STARTING_N)
    assert found.summary.pressure_p95_kpa > limit("pull_pressure").value
    assert found.summary.strap_pull_n > found.lift_off_n

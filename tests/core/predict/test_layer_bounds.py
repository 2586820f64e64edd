"""The elastic layer's bounds of a shaped surface: numbers against the layer itself, and how they hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.physics.layer_contact import EdgeRadii, layer_contact
from sealwright.physics.statics import POSITIONS, weight_wrench
from sealwright.predict.layer_bounds import (
    LayerNumbers,
    broken_bound,
    highest_kpa,
    layer_numbers,
    shares_near,
)
from sealwright.predict.straps import shared_pulls
from sealwright.progress import run_to_end

EDGES = EdgeRadii(3.5, 5.0)


def test_bounds_are_those_of_the_table() -> None:
    """1.2 times the springs, 1.1 times the even surface, by hand."""
    even = LayerNumbers(1.0, 10.0)
    assert broken_bound(even, LayerNumbers(1.19, 10.9)) == ""
    assert broken_bound(even, LayerNumbers(1.21, 8.0)) == "layer_over_springs"
    assert broken_bound(even, LayerNumbers(1.0, 11.1)) == "layer_peak_over_even"
    assert broken_bound(even, 10.9) == "" and broken_bound(even, 11.1) == "layer_peak_over_even"
    assert broken_bound(even, None) == "layer_over_springs" and broken_bound(None, 50.0) == ""


def test_shares_that_count() -> None:
    assert shares_near(0.5, False) == (0.5,)
    assert shares_near(0.5, True) == pytest.approx((0.5, 0.4, 0.6))
    assert shares_near(0.7, True) == pytest.approx((0.7, 0.6, 0.7))  # none beyond what is looked for
    assert shares_near(0.35, True) == pytest.approx((0.35, 0.3, 0.45))


@pytest.mark.heavy
def test_highest_place_is_that_of_the_worst_share() -> None:
    from physics.test_pull_trial import draws

    whole = draws(16.0, samples=8)
    alone = replace(whole.case, pulls=shared_pulls(whole.case.pulls, 0.5))
    whole = whole.under(alone.pulls)
    weight = weight_wrench(alone.hanging, POSITIONS[0].pull, alone.patch.centre)
    by_hand = [
        layer_contact(alone.patch, shared_pulls(alone.pulls, share), whole.contact, EDGES, weight).peak_kpa
        for share in (0.5, 0.4, 0.6)
    ]
    numbers = run_to_end(layer_numbers(whole, EDGES, (0.5, 0.4, 0.6)))
    assert numbers is not None and numbers.peak_kpa == pytest.approx(max(by_hand), rel=1e-9)
    assert run_to_end(highest_kpa(whole, EDGES, (0.4,))) == pytest.approx(by_hand[1], rel=1e-9)


@pytest.mark.heavy
def test_an_edge_that_cuts_in_is_seen() -> None:
    """A band tilted so that its outer edge reaches 0.5 mm further in: the layer's highest place rises."""
    from physics.test_pull_trial import draws

    whole = draws(16.0, samples=8)
    patch = whole.case.patch
    outer = patch.across_mm / np.abs(patch.across_mm).max()
    cut = whole.under(whole.case.pulls)
    cut.case = replace(whole.case, patch=replace(patch, gap_mm=patch.gap_mm - 0.5 * outer))
    even, tilted = (run_to_end(layer_numbers(one, EDGES, (0.5,))) for one in (whole, cut))
    assert even is not None and tilted is not None
    assert tilted.peak_kpa > 1.1 * even.peak_kpa
    assert broken_bound(even, tilted) != ""

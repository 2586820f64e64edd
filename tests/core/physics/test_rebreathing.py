"""Carbon dioxide against the worked numbers of docs/standards section 5, check 7."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.physics.rebreathing import inhaled_co2_percent, rebreathing
from sealwright.physics.weaknesses import assumptions


@pytest.mark.parametrize(
    ("dead", "tidal", "percent"), [(0.40, 2.0, 1.00), (0.15, 2.0, 0.375), (0.15, 0.5, 1.50)]
)
def test_worked_numbers(dead, tidal, percent):
    assert inhaled_co2_percent(dead, tidal) == pytest.approx(percent, rel=1e-12)


def test_a_breath_smaller_than_the_dead_space_is_all_exhaled_air():
    assert inhaled_co2_percent(0.6, 0.5) == 5.0


def test_small_breaths_are_the_worst_case_and_are_said():
    rows = rebreathing(0.15)
    assert [row.tidal_l for row in rows] == [2.0, 1.0, 0.5]
    assert rows[0].passed
    assert not rows[-1].passed
    assert rows[-1].inhaled_percent == max(row.inhaled_percent for row in rows)
    assert any("estimate" in text for text in assumptions("rebreathing"))


def test_refusals():
    for bad in ((-0.1, 1.0), (0.1, 0.0)):
        with pytest.raises(BadRecipe, match="L"):
            inhaled_co2_percent(*bad)

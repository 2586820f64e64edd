"""New points: ranges, means and spreads of the operators, by large seeded draws."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.search.variation import polynomial_mutation, simulated_binary_crossover, tournament


def test_children_lie_about_their_parents_mean():
    random = np.random.default_rng(0)
    mothers, fathers = np.full((20000, 2), 0.4), np.full((20000, 2), 0.6)
    children = simulated_binary_crossover(random, mothers, fathers, 15.0)
    # The operator keeps the mean of the parents; standard error 0.1 / sqrt(20000) = 7e-4.
    assert children.mean() == pytest.approx(0.5, abs=3e-3)
    assert 0.07 < children.std() < 0.13
    same = simulated_binary_crossover(random, mothers, mothers, 15.0)
    assert np.allclose(same, mothers)


def test_mutation_moves_about_one_value_and_stays_in_range():
    points = np.full((20000, 5), 0.5)
    out = polynomial_mutation(np.random.default_rng(1), points, 20.0)
    assert (out != points).mean() == pytest.approx(0.2, abs=0.01)
    assert out.mean() == pytest.approx(0.5, abs=2e-3)
    edge = polynomial_mutation(np.random.default_rng(1), np.ones((5000, 2)), 1.0)
    assert edge.min() >= 0.0
    assert edge.max() <= 1.0


def test_tournament_prefers_the_better():
    drawn = tournament(np.random.default_rng(2), 10, 50000)
    share = np.bincount(drawn, minlength=10) / 50000
    # Best of two out of ten: (19 - 2 i) / 100.
    assert np.allclose(share, (19 - 2 * np.arange(10)) / 100, atol=0.01)

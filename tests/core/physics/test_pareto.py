"""Fronts, crowding and covered area by hand and against a slow, plain definition."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.search.pareto import crowding_distance, non_dominated, ranks

from .fronts import dominates, hypervolume


def test_domination():
    assert dominates(np.array([1.0, 2.0]), np.array([1.0, 3.0]))
    assert not dominates(np.array([1.0, 2.0]), np.array([1.0, 2.0]))
    assert not dominates(np.array([0.0, 5.0]), np.array([1.0, 2.0]))


def test_front_is_that_of_the_definition():
    goals = np.random.default_rng(2).integers(0, 12, (60, 3)).astype(float)
    plain = [not any(dominates(other, one) for other in goals) for one in goals]
    assert np.array_equal(non_dominated(goals), plain)


def test_ranks_peel_off_fronts():
    goals = np.array([[0, 3], [1, 1], [3, 0], [1, 3], [2, 2], [4, 4]], dtype=float)
    assert ranks(goals).tolist() == [0, 0, 0, 1, 1, 2]


def test_crowding_by_hand():
    goals = np.array([[0.0, 4.0], [1.0, 3.0], [2.0, 1.0], [4.0, 0.0]])
    assert crowding_distance(goals).tolist() == [np.inf, 2 / 4 + 3 / 4, 3 / 4 + 3 / 4, np.inf]


def test_covered_area_of_steps():
    goals = np.array([[1.0, 3.0], [2.0, 2.0], [3.0, 1.0], [3.0, 3.0], [9.0, 0.0]])
    # Boxes up to (4, 4): 1x1 + 1x2 + 1x3 = 6.
    assert hypervolume(goals, np.array([4.0, 4.0])) == pytest.approx(6.0)
    assert hypervolume(goals, np.array([0.5, 0.5])) == 0.0

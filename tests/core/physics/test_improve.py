"""The search on textbook problems whose trade-off is known in closed form (definitions from memory)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.progress import run_to_end
from sealwright.search.search import DesignVariable, SearchSettings, TradeOff, improve_steps

from .fronts import dominates, hypervolume


def improve(variables, evaluate, settings=None) -> TradeOff:
    return run_to_end(improve_steps(variables, evaluate, settings))


def one(low, high, start, name="x"):
    return DesignVariable(name, "mm", low, high, start)


def schaffer(values):
    x = values["x"]
    return x * x, (x - 2.0) ** 2


def goals_of(found):
    return np.array([c.goals for c in found.front])


def test_schaffer():
    # Front: x in [0, 2], that is sqrt(f1) + sqrt(f2) = 2. Covered area up to (5, 5) by integration.
    found = improve([one(-10, 10, 8.0)], schaffer, SearchSettings(evaluations=400, group=24))
    goals = goals_of(found)
    assert np.abs(np.sqrt(goals).sum(axis=1) - 2).max() < 0.02
    f1 = np.linspace(0, 4, 40001)
    full = trapezoid(5 - (2 - np.sqrt(f1)) ** 2, f1) + 5.0
    assert hypervolume(goals, np.array([5.0, 5.0])) > 0.98 * full
    assert len(found.front) >= 20


def test_zdt1_in_six_dimensions():
    # f1 = x1, g = 1 + 9 mean(x2..), f2 = g (1 - sqrt(f1 / g)); front f2 = 1 - sqrt(f1).
    def zdt1(values):
        x = np.array([values[f"x{i}"] for i in range(6)])
        g = 1 + 9 * x[1:].mean()
        return x[0], g * (1 - np.sqrt(x[0] / g))

    names = [one(0, 1, 0.5, f"x{i}") for i in range(6)]
    found = improve(names, zdt1, SearchSettings(evaluations=1500, group=30))
    goals = goals_of(found)
    assert np.abs(goals[:, 1] - (1 - np.sqrt(goals[:, 0]))).mean() < 0.03
    assert goals[:, 0].min() < 0.02
    assert goals[:, 0].max() > 0.9
    # Covered up to (1.1, 1.1): 1.21 - integral of the front 1/3 - 0.1 x 0 ... = 0.8767 for the true front.
    assert hypervolume(goals, np.array([1.1, 1.1])) > 0.96 * (1.21 - 1 / 3)


def test_fonseca_fleming():
    # Two variables: front where both are equal and within +-1/sqrt(2); f = 1 - exp(-sum (x -+ 1/sqrt(2))^2).
    def both(values):
        x = np.array([values["a"], values["b"]])
        c = 1 / np.sqrt(2)
        return 1 - np.exp(-((x - c) ** 2).sum()), 1 - np.exp(-((x + c) ** 2).sum())

    found = improve(
        [one(-4, 4, 3.0, "a"), one(-4, 4, -3.0, "b")], both, SearchSettings(evaluations=900, group=30)
    )
    inside = [c for c in found.front if max(c.goals) < 0.97]  # near the ends the goals are flat
    assert len(inside) > 10
    assert np.median([abs(c.values["a"] - c.values["b"]) for c in inside]) < 0.12
    # Along the front a = b = t: f = 1 - exp(-2 (t -+ c)^2).
    t = np.linspace(-1, 1, 2001) / np.sqrt(2)
    true = np.column_stack(
        [1 - np.exp(-2 * (t - 1 / np.sqrt(2)) ** 2), 1 - np.exp(-2 * (t + 1 / np.sqrt(2)) ** 2)]
    )
    worst = np.array([1.0, 1.0])
    assert hypervolume(goals_of(found), worst) > 0.95 * hypervolume(true, worst)


def test_refused_designs_are_counted_and_never_in_the_front():
    # Binh and Korn: (x-5)^2 + y^2 <= 25 and (x-8)^2 + (y+3)^2 >= 7.7.
    def binh_korn(values):
        x, y = values["x"], values["y"]
        if (x - 5) ** 2 + y * y > 25 or (x - 8) ** 2 + (y + 3) ** 2 < 7.7:
            raise DoesNotFit("outside", "test", "none")
        return 4 * x * x + 4 * y * y, (x - 5) ** 2 + (y - 5) ** 2

    found = improve(
        [one(0, 5, 2.0, "x"), one(0, 3, 2.5, "y")], binh_korn, SearchSettings(evaluations=500, group=24)
    )
    assert found.refused["does-not-fit"] > 0
    for candidate in found.front:
        x, y = candidate.values["x"], candidate.values["y"]
        assert (x - 5) ** 2 + y * y <= 25
    # Known front: x = y up to 3, then y = 3.
    x = np.linspace(0, 5, 2001)
    y = np.minimum(x, 3.0)
    true, worst = np.column_stack([4 * x**2 + 4 * y**2, (x - 5) ** 2 + (y - 5) ** 2]), np.array([140.0, 50.0])
    assert hypervolume(goals_of(found), worst) > 0.98 * hypervolume(true, worst)


def test_same_seed_same_front_and_better_than_the_start():
    chosen = SearchSettings(evaluations=60, group=12, seed=5)
    first, second = (improve([one(-10, 10, 3.0)], schaffer, chosen) for _ in range(2))
    assert first == second
    assert improve([one(-10, 10, 3.0)], schaffer, SearchSettings(evaluations=60, group=12, seed=6)) != first
    assert first.start.values == {"x": 3.0}
    assert first.better
    assert all(dominates(np.array(c.goals), np.array(first.start.goals)) for c in first.better)
    assert first.tried == 60


def test_a_perfect_start_is_not_lost():
    found = improve([one(-1, 1, 0.0)], lambda v: (v["x"] ** 2, v["x"] ** 2), SearchSettings(evaluations=40))
    assert found.front[0].values == {"x": 0.0}
    assert len(found.front) == 1
    assert found.better == ()


def test_values_stay_in_their_ranges_and_steps_tell_how_far():
    seen = []

    def note(values):
        seen.append(values["x"])
        return values["x"], -values["x"]

    steps = list(improve_steps([one(2, 3, 2.5)], note, SearchSettings(evaluations=30, group=8)))
    assert min(seen) >= 2.0
    assert max(seen) <= 3.0
    assert [round(30 * share) for share, _ in steps] == list(range(1, 31))


def test_nothing_that_works_gives_an_empty_trade_off():
    def never(values):
        raise DoesNotFit("no", "test", "none")

    found = improve([one(0, 1, 0.5)], never, SearchSettings(evaluations=20))
    assert found.front == ()
    assert found.start is None
    assert found.refused == {"does-not-fit": 20}
    nan = improve([one(0, 1, 0.5)], lambda v: (float("nan"), 0.0), SearchSettings(evaluations=20))
    assert nan.refused == {"bad-numbers": 20}


@pytest.mark.parametrize(
    "parameters",
    [[], [one(0, 1, 0.5), one(0, 1, 0.5)], [one(1, 0, 0.5)], [one(0, 1, 2.0)], [one(0, float("nan"), 0.0)]],
)
def test_bad_parameters_are_refused(parameters):
    with pytest.raises(BadRecipe):
        improve(parameters, schaffer)
    with pytest.raises(BadRecipe, match="whole"):
        improve([one(0, 1, 0.5)], schaffer, SearchSettings(evaluations=1))

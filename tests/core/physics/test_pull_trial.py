"""Straps tried on all draws, only as far as asked: the same answers as working everything out."""

from __future__ import annotations

import numpy as np
import pytest
import sealwright.parallel as parallel
from sealwright.physics.breathing import AirwaySettings
from sealwright.physics.ensemble import Ensemble, WornCase
from sealwright.physics.filter_case import FilterCase
from sealwright.physics.statics import Hanging
from sealwright.physics.worn import area_quantiles

from .bands import exact, face_like, yoke

FILTER = FilterCase((1000.0, 500.0, 2500.0), 75.0, (0.05, 0.01, 0.2), 10.0, AirwaySettings(port_loss=0.0))


def draws(pull_n: float = 20.0, samples: int = 192) -> Ensemble:
    """A mask on a face, which holds in some of the draws and not in others."""
    hung = Hanging(100.0, np.array([0.0, -100.0, -30.0]))
    case = WornCase(face_like(), tuple(yoke(pull_n)), FILTER, hung)
    return Ensemble(case, None, exact(samples=samples, scan_noise_mm=0.1))


def test_answers_are_those_of_everything_worked_out():
    whole = draws()
    worn, asked = whole.worn(states="hold"), whole.tried()
    share = float(worn.holds.mean())
    assert 0.05 < share < 0.95
    assert asked.reaches("hold", share) and not whole.tried().reaches("hold", share + 1.0 / 192)
    assert asked.share("hold") == share and asked.share("stay") == float(worn.stays.mean())
    assert asked.p95_median_kpa == worn.p95_median_kpa


def test_begun_from_other_straps_it_ends_in_the_same_balance():
    # A balance is accepted when 2e-4 of the load are unbalanced; Newton steps end well inside that.
    whole = draws()
    cold = whole.pulled(1.3).tried()
    warm = whole.pulled(1.3).tried(whole.pulled(0.6).tried())
    assert warm.p95_median_kpa == pytest.approx(cold.p95_median_kpa, rel=1e-4)
    assert warm.share("hold") == pytest.approx(cold.share("hold"), abs=1.01 / 192)


def test_the_number_of_threads_changes_no_byte(monkeypatch):
    two = draws().worn()
    monkeypatch.setattr(parallel, "THREADS", 1)
    one = draws().worn()
    assert two.fit_factor.tobytes() == one.fit_factor.tobytes()
    assert two.p95_kpa.tobytes() == one.p95_kpa.tobytes() and two.held.tobytes() == one.held.tobytes()


def test_quantiles_by_area_against_a_plain_loop():
    random = np.random.default_rng(3)
    values = np.maximum(random.normal(size=(7, 50)), 0.0).astype(np.float32)
    values[0], values[1, :25] = 0.0, 0.5
    areas = random.uniform(0.5, 2.0, 50)
    for row, found in zip(values, area_quantiles(values, areas, 0.95), strict=True):
        total, filled, wanted = areas[row > 0].sum(), 0.0, 0.0
        for place in np.argsort(row, kind="stable"):
            if row[place] > 0 and filled < 0.95 * total * (1 - 1e-12):
                filled, wanted = filled + areas[place], row[place]
        assert found == wanted

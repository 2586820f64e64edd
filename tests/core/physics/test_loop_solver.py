"""Points round a loop solved by conjugate gradients, against LAPACK's own Cholesky factors."""

from __future__ import annotations

import numpy as np
import sealwright.parallel as parallel
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.layer_contact import influence
from sealwright.physics.loop_solver import LoopSolver

from .bands import face_like


def matrix() -> tuple[np.ndarray, np.ndarray, int]:
    """The influence of a face-like band on itself, with its stations."""
    patch = face_like()
    return influence(patch, ContactSettings()), patch.station, patch.station_count


def test_the_answers_are_those_of_the_factored_matrix():
    sink, station, count = matrix()
    random = np.random.default_rng(2)
    solver, wanted = LoopSolver(sink, station, count), random.normal(size=(len(sink), 3))
    for share in (1.0, 0.9, 0.88, 0.3):
        active = random.uniform(size=len(sink)) < share
        found, rows = solver.solve(active, wanted), np.flatnonzero(active)
        exact = np.linalg.solve(sink[np.ix_(rows, rows)], wanted[rows])
        assert found is not None and not found[~active].any()
        # 1e-9 of the right side is left unbalanced; the band's matrix has a condition of some hundreds.
        assert np.abs(found[rows] - exact).max() < 1e-6 * np.abs(exact).max()


def test_a_matrix_that_is_no_influence_is_left_to_others():
    # Two points in one place that push each other further than themselves: not positive definite.
    sink, station, count = matrix()
    sink[0, 1] = sink[1, 0] = 2.0 * max(sink[0, 0], sink[1, 1])
    assert LoopSolver(sink, station, count).solve(np.ones(len(sink), bool), np.ones((len(sink), 1))) is None


def test_a_right_side_of_nothing_and_no_points():
    sink, station, count = matrix()
    none = LoopSolver(sink, station, count).solve(np.zeros(len(sink), bool), np.ones((len(sink), 2)))
    nothing = LoopSolver(sink, station, count).solve(np.ones(len(sink), bool), np.zeros((len(sink), 2)))
    assert none is not None and not none.any() and nothing is not None and not nothing.any()


def test_the_number_of_threads_changes_no_byte(monkeypatch):
    sink, station, count = matrix()
    wanted, active = np.ones((len(sink), 2)), np.ones(len(sink), bool)
    two = LoopSolver(sink, station, count).solve(active, wanted)
    monkeypatch.setattr(parallel, "THREADS", 1)
    one = LoopSolver(*matrix()).solve(active, wanted)
    assert one is not None and two is not None and one.tobytes() == two.tobytes()

"""Going down by gradients: known lowest places, and another implementation of the method."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize, rosen, rosen_der
from sealwright.physics.descent import descent_steps
from sealwright.progress import run_to_end


def bowl(at: np.ndarray) -> tuple[float, np.ndarray]:
    """Stiff one way and soft the other, lowest at (1, 2, 3)."""
    off, stiff = at - np.array([1.0, 2.0, 3.0]), np.array([1.0, 100.0, 10.0])
    return float(0.5 * stiff @ off**2), stiff * off


def test_lowest_place_of_a_bowl() -> None:
    found = run_to_end(descent_steps(bowl, np.zeros(3), 60))
    np.testing.assert_allclose(found, [1.0, 2.0, 3.0], atol=1e-4)  # the slope is 1e-5 at most, or it is still


@pytest.mark.parametrize("size", [2, 6])
def test_as_low_as_scipy_in_a_bent_valley(size: int) -> None:
    """Rosenbrock's function: lowest at ones; SciPy's L-BFGS-B gets there too."""
    start = np.full(size, -1.2)
    found = run_to_end(descent_steps(lambda at: (rosen(at), rosen_der(at)), start, 300))
    theirs = minimize(rosen, start, jac=rosen_der, method="L-BFGS-B", options={"maxiter": 300})
    assert rosen(found) <= max(theirs.fun, 1e-8)


def test_one_step_for_every_time_it_is_asked() -> None:
    """The share done never falls, and what is asked is counted."""
    asked = []

    def counted(at: np.ndarray) -> tuple[float, np.ndarray]:
        asked.append(at)
        return bowl(at)

    shares = list(descent_steps(counted, np.zeros(3), 8))
    assert len(shares) == len(asked) and shares == sorted(shares) and 0.0 <= shares[0] <= shares[-1] < 1.0

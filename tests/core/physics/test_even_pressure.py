"""Offsets for even pressure: slopes against finite differences, balances against others, closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from sealwright.physics.batch import balance, seat
from sealwright.physics.chunk import Chunk
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.ensemble import Ensemble, WornCase
from sealwright.physics.even_pressure import EvenPressure, Weights
from sealwright.physics.exact_balance import balanced, seated, springs_of
from sealwright.physics.foundation import FoundationSettings, GasketSettings, foundation_of
from sealwright.physics.loop import patch_from_grid
from sealwright.physics.offset_modes import OffsetModes, modes_of
from sealwright.physics.shaped_offsets import Counts, offsets_steps, score_of, with_seed
from sealwright.physics.statics import POSITIONS
from sealwright.progress import run_to_end

from .bands import down, exact, face_like
from .test_pull_trial import FILTER, draws

WEIGHTS = Weights(4.0, 12.0, 2.0, 3.0, 3.0)


def soft() -> Ensemble:
    """The same mask on a thin soft layer."""
    whole = draws(samples=12)
    layer = ContactSettings(FoundationSettings(gasket=GasketSettings(3.0, 50.0, 0.2)))
    return Ensemble(whole.case, layer, whole.settings)


@pytest.mark.parametrize("whole", [draws(samples=12), soft()], ids=["rigid", "soft"])
def test_slope_is_that_of_finite_differences(whole: Ensemble):
    """Central differences at a step that few points come to touch in."""
    modes = modes_of(whole.case.patch, 3, 1.0)
    number = EvenPressure(whole, (1, 5), WEIGHTS)
    random = np.random.default_rng(5)
    at = 0.15 * random.normal(size=modes.shapes.shape[1])
    _, slope = number.at(modes.offsets(at))
    slope = modes.to_sizes(at, slope)
    for way in random.normal(size=(4, len(at))):
        step = 1e-5 * way / np.linalg.norm(way)
        ahead, behind = (number.at(modes.offsets(at + sign * step))[0] for sign in (1.0, -1.0))
        # Of the second order in the step, and rounding of the balances (1e-10 of the load) over it.
        assert slope @ step == pytest.approx(0.5 * (ahead - behind), rel=2e-4, abs=1e-10)


def test_balances_are_those_of_the_draws():
    """`batch` solves the same springs by another line search, and leaves 2e-4 of the load."""
    whole = draws(samples=24)
    chunk = Chunk(
        whole, slice(0, 24), whole.contact.foundation.gasket, np.zeros(len(whole.case.patch.points))
    )
    load = chunk.load(POSITIONS[0].pull, 0.0, chunk.straps(whole.case.pulls))
    there = seat(whole.band, chunk.springs, load)
    known = balance(whole.band, chunk.springs, load, there, there)
    normal, gap = chunk.springs.normal.astype(np.float64), chunk.springs.gap.astype(np.float64)
    springs = springs_of(whole.case.patch, normal, chunk.springs.shear.astype(np.float64))
    start = there + 0.05  # not from the answer
    found_seat = seated(springs, gap, load, there)
    found = balanced(springs, gap, load, there, start)
    assert found.good.all() and known.good.all()
    np.testing.assert_allclose(found.motion, known.motion, atol=2e-3)
    # So little holds a mask at its seat that 2e-4 of 0.2 N are up to 0.1 mm of gliding.
    assert found_seat.state.good.all()
    assert np.median(np.abs(found_seat.state.motion - there)) < 2e-3
    assert np.abs(found_seat.state.motion - there).max() < 0.1


def two_sites() -> Ensemble:
    """A flat ring over cheek and chin by turns in four quarters, pressed straight down, all known."""
    turn = 2.0 * np.pi * (np.arange(64) + 0.5) / 64
    across = np.linspace(-6.0, 6.0, 7)
    radius = 45.0 + across[None, :]
    points = np.stack(
        [radius * np.cos(turn)[:, None], radius * np.sin(turn)[:, None], 0.0 * radius * turn[:, None]],
        axis=-1,
    )
    region = np.where((turn // (np.pi / 2)) % 2 < 1, 2, 4)[:, None]
    patch = patch_from_grid(points, np.broadcast_to([0.0, 0.0, 1.0], points.shape), 0.0, across, region)
    known = exact(samples=8, scan_noise_mm=0.0, print_error_mm=0.0, skin_spread=0.0, tension_spread=0.0)
    return Ensemble(WornCase(patch, (down(0.0, 0.0, 12.0),), FILTER), None, known)


def test_two_sites_come_to_even_pressure():
    """Closed form: p = F / A on both, so the softer site is reached into by p (1 / k1 - 1 / k2) more."""
    whole = two_sites()
    patch, stiff = whole.case.patch, foundation_of(whole.case.patch, whole.contact.foundation).normal
    cheek, chin = patch.region == 2, patch.region == 4
    even_n_mm2 = 12.0 / patch.areas.sum()
    wanted = even_n_mm2 * (1.0 / stiff[chin][0] - 1.0 / stiff[cheek][0])
    assert abs(wanted) > 0.1
    modes = OffsetModes(cheek[:, None].astype(np.float64), 50.0)
    number = EvenPressure(whole, (0,), Weights(1e9, 1.0, 1.0, 0.0, 0.0))

    def cost(sizes):
        value, slope = number.at(modes.offsets(sizes))
        return value, modes.to_sizes(sizes, slope)

    found = minimize(cost, np.zeros(1), jac=True, method="L-BFGS-B", options={"ftol": 1e-14, "gtol": 1e-9})
    # The side springs take a little of the pull while the mask sinks unevenly: none here, by symmetry.
    assert modes.offsets(found.x)[cheek][0] == pytest.approx(wanted, rel=1e-3)
    assert np.sign(wanted) == np.sign(stiff[cheek][0] - stiff[chin][0])  # the softer one is reached into


def coarse(pull_n: float) -> Ensemble:
    """The mask of the other tests on fewer points."""
    fine = draws(pull_n, samples=8)
    patch = face_like(stations=72, across=6)
    known = exact(samples=8, scan_noise_mm=0.1, skin_spread=1.0)
    return Ensemble(replace(fine.case, patch=patch), fine.contact, known)


@pytest.mark.heavy
def test_chosen_offsets_are_better_on_other_draws():
    """On 512 draws that they were neither chosen nor judged on."""
    whole = coarse(30.0)
    modes = modes_of(whole.case.patch, 4, 0.8)
    offsets = run_to_end(offsets_steps(whole, modes, Counts(32, 128)))
    assert offsets is not None and 0.05 < np.abs(offsets).max() < 0.8
    fresh = with_seed(whole, 7, 512)
    even, shaped = score_of(fresh.worn()), score_of(fresh.worn(offset_mm=offsets))
    assert shaped.worst_kpa < 0.97 * even.worst_kpa or shaped.short < even.short - 0.02
    assert shaped.reaching > even.reaching - 0.03 and shaped.holding > even.holding - 0.03
    again = run_to_end(offsets_steps(whole, modes, Counts(32, 128)))
    assert again is not None and again.tobytes() == offsets.tobytes()


def test_modes_are_waves_along_the_line_and_bounded():
    """Orthogonal over the line, as sines are (any text on Fourier series), and below the bound."""
    patch = face_like(stations=96)
    modes = modes_of(patch, 3, 0.5)
    assert modes.shapes.shape == (len(patch.points), 14)
    weight = patch.loop.width_mm[patch.station] / 13  # thirteen points a station
    of_even = modes.shapes[:, :7].T @ (modes.shapes[:, :7] * weight[:, None]) / weight.sum()
    np.testing.assert_allclose(of_even, np.diag([1.0] + [0.5] * 6), atol=2e-3)
    assert np.abs(modes.offsets(np.full(14, 100.0))).max() <= 0.5
    assert modes.offsets(np.eye(14)[0] * 1e-3) == pytest.approx(1e-3, rel=1e-5)

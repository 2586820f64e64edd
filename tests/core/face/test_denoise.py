"""Noise: measured where it is known, and a smoothing that keeps its bound."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.face.denoise import (
    nearest_filled,
    quadratic_fit,
    robust_sigma,
    smooth_bounded,
    vertex_noise,
)
from sealwright.mesh import TriMesh

from .shapes import as_scan, sphere

ALL = np.ones((60, 60), dtype=bool)


def test_quadratics_pass_unchanged() -> None:
    """Savitzky and Golay 1964: a window fit of degree two reproduces polynomials of degree two."""
    rows, columns = np.indices(ALL.shape) / 10.0
    quadric = 70.0 + rows - 0.3 * columns + 0.2 * rows**2 - 0.1 * rows * columns
    fitted = quadratic_fit(quadric, ALL, 3)
    assert fitted[3:-3, 3:-3] == pytest.approx(quadric[3:-3, 3:-3], abs=1e-10)


def test_noise_of_a_quadratic_fit_falls_as_the_weights_say() -> None:
    """White noise is multiplied by the root of the sum of squared weights, here that of a 7 x 7 window."""
    line = np.arange(-3, 4.0)
    x, y = np.meshgrid(line, line)
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    expected = np.sqrt(np.linalg.inv(basis.T @ basis)[0, 0])
    noise = np.random.default_rng(2).normal(size=(300, 300))
    left = quadratic_fit(noise, np.ones_like(noise, dtype=bool), 3)[3:-3, 3:-3].std()
    # 3 %: 86,000 samples, neighbours correlated over some 49
    assert left == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("sigma", [0.02, 0.1, 0.3])
def test_noise_of_a_scan_is_measured(sigma: float) -> None:
    mesh = as_scan(sphere(75.0, half=60))
    noise = np.random.default_rng(3).normal(scale=sigma, size=len(mesh.vertices))
    noisy = TriMesh(mesh.vertices + noise[:, None] * mesh.vertex_normals, mesh.faces)
    # 15 %: the weights are those of a lattice with six neighbours; this one has four to eight
    assert robust_sigma(vertex_noise(noisy)) == pytest.approx(sigma, rel=0.15)


def test_curvature_is_not_taken_for_noise() -> None:
    assert robust_sigma(vertex_noise(as_scan(sphere(20.0, half=60)))) < 0.002


def test_outliers_do_not_count() -> None:
    values = np.random.default_rng(4).normal(scale=0.5, size=10_000)
    values[:500] = 40.0
    # 8 %: 5 % of outliers shift the median of the deviations by that much
    assert robust_sigma(values) == pytest.approx(0.5, rel=0.08)
    assert robust_sigma(np.array([])) == 0.0


@pytest.mark.parametrize("bound", [0.05, 0.2])
def test_smoothing_never_exceeds_its_bound(bound: float) -> None:
    rng = np.random.default_rng(5)
    radii = 75.0 + rng.normal(scale=0.3, size=ALL.shape)
    radii[10, 10] = 83.0  # a spike
    radii[40:44, 20:25] = np.nan
    done = smooth_bounded(radii, np.isfinite(radii), 0.3, bound, 0.75)
    known = np.isfinite(radii)
    assert np.abs(done.radii - radii)[known].max() <= bound + 1e-12
    assert np.abs(done.moved_mm)[known].max() == pytest.approx(bound)  # and it is used
    assert np.isnan(done.radii[~known]).all()
    assert done.radii[known].std() < radii[known].std()


def test_zero_bound_leaves_everything() -> None:
    radii = np.random.default_rng(6).normal(size=ALL.shape)
    assert smooth_bounded(radii, ALL, 1.0, 0.0, 0.75).radii is radii


def test_nearest_filled_takes_the_nearest_known_pixel() -> None:
    radii = np.full((5, 9), np.nan)
    radii[2, 0], radii[2, 8] = 1.0, 2.0
    assert np.array_equal(nearest_filled(radii, np.isfinite(radii))[2], [1, 1, 1, 1, 1, 2, 2, 2, 2])
    assert not nearest_filled(radii, np.zeros_like(radii, dtype=bool)).any()

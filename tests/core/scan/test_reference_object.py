"""Scale from a card or a box in the scan."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import ImplausibleSize
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.scan.reference.reference_object import CARD, FlatReference, fit_reference, patch_points
from trials.faces import random_pose


def card_mesh(
    stretch: float = 1.0, noise_mm: float = 0.0, step_mm: float = 0.8, units: float = 1.0
) -> TriMesh:
    """A card of 85.60 x 53.98 mm with corners of 3.18 mm radius (ISO/IEC 7810, docs/standards section 8)."""
    x, y = np.meshgrid(np.linspace(0, 85.60, int(85.6 / step_mm)), np.linspace(0, 53.98, int(54 / step_mm)))
    rng = np.random.default_rng(7)
    z = rng.normal(scale=noise_mm, size=x.shape) if noise_mm else np.zeros_like(x)
    v = np.stack([x.ravel() * stretch, y.ravel(), z.ravel()], axis=1)
    v[:, :2] += rng.normal(scale=0.3 * noise_mm, size=(len(v), 2))
    rows, columns = x.shape
    a = (np.arange(columns - 1)[None] + columns * np.arange(rows - 1)[:, None]).ravel()
    f = np.vstack([np.stack([a, a + 1, a + columns + 1], 1), np.stack([a, a + columns + 1, a + columns], 1)])
    q = np.stack([np.abs(x.ravel() - 42.8) - 39.62, np.abs(y.ravel() - 26.99) - 23.81], 1)
    corner = (q > 0).all(axis=1) & (np.hypot(*q.T) > 3.18)
    mesh = trimesh_of(v * units, f[~corner[f].any(axis=1)])
    return mesh.moved(random_pose(11))


@pytest.mark.parametrize("units", [1.0, 0.001, 1 / 25.4])
def test_exact_card_in_any_unit(units: float) -> None:
    mesh = card_mesh(units=units)
    fit = fit_reference(patch_points(mesh, np.arange(len(mesh.faces))))
    # 1e-3: borders of a patch of whole triangles are met exactly; the strip lines leave 0.1 %.
    assert fit.scale.mm_per_unit == pytest.approx(1 / units, rel=1e-3)
    assert abs(fit.distortion) < 1e-3
    assert fit.scale.remarks == ()
    # Check value 3 of docs/standards section 8: card diagonal 101.20, here +/- 0.1 for the same reason.
    diagonal = np.linalg.norm(fit.corners[0] - fit.corners[2]) * fit.scale.mm_per_unit
    assert diagonal == pytest.approx(101.20, abs=0.1)


def test_noisy_card_with_stray_points() -> None:
    mesh = card_mesh(noise_mm=0.3)
    points = patch_points(mesh, np.arange(len(mesh.faces)))
    rng = np.random.default_rng(2)
    stray = points[rng.integers(0, len(points), 40)] + rng.normal(scale=8.0, size=(40, 3))
    fit = fit_reference(np.vstack([points, stray]))
    # 0.7 %: 0.3 mm of noise pushes both borders out by about 0.15 mm on 54 mm.
    assert fit.scale.mm_per_unit == pytest.approx(1.0, rel=7e-3)
    assert 0.1 < fit.flatness_mm < 0.6


def test_stretched_scan_is_refused() -> None:
    mesh = card_mesh(stretch=1.02)
    with pytest.raises(ImplausibleSize) as caught:
        fit_reference(patch_points(mesh, np.arange(len(mesh.faces))))
    assert "differ by 1.9" in caught.value.what or "differ by 2.0" in caught.value.what


def test_box_of_given_size() -> None:
    mesh = card_mesh()
    fit = fit_reference(patch_points(mesh, np.arange(len(mesh.faces))), FlatReference("box", 171.2, 107.96))
    assert fit.scale.mm_per_unit == pytest.approx(2.0, rel=1e-3)


@pytest.mark.parametrize("faces", [[], [-1], [10**7]])
def test_patches_that_are_none(faces: list[int]) -> None:
    with pytest.raises(ImplausibleSize):
        patch_points(card_mesh(), faces)


def test_too_few_points_or_a_line() -> None:
    with pytest.raises(ImplausibleSize):
        fit_reference(np.random.default_rng(0).normal(size=(10, 3)))
    line = np.linspace(0, 1, 200)[:, None] * np.array([[1.0, 2.0, 3.0]])
    with pytest.raises(ImplausibleSize):
        fit_reference(line)


def test_the_card_is_the_standard_one() -> None:
    assert (CARD.long_mm, CARD.short_mm) == (85.60, 53.98)  # ISO/IEC 7810 ID-1, docs/standards 8 (V63)


@pytest.mark.parametrize("pieces", [1, 4])
def test_a_face_of_few_large_triangles_is_measured(pieces: int) -> None:
    """The face of a box as two triangles, or a coarse scan of it: its borders are straight and exact."""
    x, y = np.meshgrid(np.linspace(0, 120.0, pieces + 1), np.linspace(0, 80.0, pieces + 1))
    a = (np.arange(pieces)[None] + (pieces + 1) * np.arange(pieces)[:, None]).ravel()
    b = a + pieces + 1
    f = np.vstack([np.stack([a, a + 1, b + 1], 1), np.stack([a, b + 1, b], 1)])
    mesh = trimesh_of(np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1), f).moved(random_pose(5))
    fit = fit_reference(patch_points(mesh, np.arange(len(f))), FlatReference("box", 120.0, 80.0))
    assert fit.scale.mm_per_unit == pytest.approx(1.0, rel=1e-9)
    assert abs(fit.distortion) < 1e-9

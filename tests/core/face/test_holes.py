"""Holes: which are filled, and with what."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.face.holes import enclosed_holes, fill_smoothly

from .shapes import sphere


def disc(shape: tuple[int, int], row: float, column: float, radius: float) -> np.ndarray:
    rows, columns = np.indices(shape)
    return np.hypot(rows - row, columns - column) <= radius


def test_enclosed_hole_is_found_and_open_border_is_not() -> None:
    known = np.ones((60, 60), dtype=bool)
    hole = disc(known.shape, 30, 30, 7)
    known[hole] = False
    known[:, :5] = False  # the scan ends here
    assert np.array_equal(enclosed_holes(known, 2), hole)


def test_gap_to_the_border_is_bridged_when_narrow_enough() -> None:
    known = np.ones((60, 60), dtype=bool)
    known[:30, 29:32] = False  # a slit three pixels wide, open above
    assert not enclosed_holes(known, 1)[:25].any()
    assert enclosed_holes(known, 2)[5:30, 29:32].all()


def test_nothing_is_filled_where_nothing_is_missing() -> None:
    known = np.ones((20, 20), dtype=bool)
    assert not enclosed_holes(known, 3).any()
    radii = np.full((20, 20), 5.0)
    assert fill_smoothly(radii, ~known) is radii


@pytest.mark.parametrize("beside_mm", [0.0, 12.0])
def test_hole_in_a_sphere_is_filled_with_the_sphere(beside_mm: float) -> None:
    face = sphere(75.0, (beside_mm, 0.0, 0.0), half=60)
    hole = disc(face.radii.shape, 55, 62, 7)  # 10 mm across
    radii = np.where(hole, np.nan, face.radii)
    filled = fill_smoothly(radii, hole)
    # 0.02 mm: least bending continues a quadratic exactly; the sphere's next term over 5 mm is
    # 3 x^4 / (8 r^3) = 0.0006 mm, the small harmonic share takes the rest.
    assert np.abs(filled - face.radii)[hole].max() < 0.02
    assert np.array_equal(filled[~hole], radii[~hole])


def test_quadratic_is_continued_where_a_harmonic_fill_would_be_flat() -> None:
    rows, columns = np.indices((61, 61)) - 30.0
    quadric = 70.0 + 0.004 * rows**2 - 0.002 * columns**2 + 0.001 * rows * columns
    hole = disc(quadric.shape, 30, 30, 9)
    filled = fill_smoothly(np.where(hole, np.nan, quadric), hole)
    # The discrete biharmonic operator is zero on quadratics; 0.03 mm is the harmonic share of a 10 px hole,
    # against 0.16 mm by which a harmonic fill misses the middle.
    assert np.abs(filled - quadric)[hole].max() < 0.03

"""The azimuthal equidistant chart, against its definition (Snyder 1987, Map Projections, chapter 25)."""

from __future__ import annotations

import numpy as np
import pytest

from .shapes import chart_at

CHART = chart_at((3.0, 50.0, -20.0), tilt_deg=15.0)


def test_places_and_directions_undo_each_other() -> None:
    rng = np.random.default_rng(1)
    angle, turn = rng.uniform(0.0, 2.5, 500), rng.uniform(0.0, 2 * np.pi, 500)
    pq = np.stack([angle * np.cos(turn), angle * np.sin(turn)], axis=1)
    radius = rng.uniform(30.0, 120.0, 500)
    found, far = CHART.place_of(CHART.centre + radius[:, None] * CHART.direction_at(pq))
    # 1e-12: float64 rounding of sines and arc tangents
    assert found == pytest.approx(pq, abs=1e-12)
    assert far == pytest.approx(radius, rel=1e-14)


def test_distance_from_the_middle_is_the_angle_to_the_front_axis() -> None:
    pq = np.array([[0.3, 0.4], [-1.2, 0.5], [0.0, -2.0]])
    cosine = CHART.direction_at(pq) @ CHART.axes[2]
    assert np.arccos(cosine) == pytest.approx(np.hypot(pq[:, 0], pq[:, 1]), abs=1e-12)


def test_axes_are_right_handed_and_the_front_tilts_down() -> None:
    assert CHART.axes @ CHART.axes.T == pytest.approx(np.eye(3), abs=1e-15)
    assert np.cross(CHART.axes[0], CHART.axes[1]) == pytest.approx(CHART.axes[2], abs=1e-15)
    assert CHART.axes[2] == pytest.approx([0.0, -np.cos(np.radians(15)), -np.sin(np.radians(15))])


def test_image_is_symmetric_about_the_midplane() -> None:
    mirrored = CHART.directions[:, ::-1] * [-1.0, 1.0, 1.0]
    assert np.array_equal(mirrored, CHART.directions)  # to the bit: the mirror test of designs stands on it


def test_pixels_count_from_the_lower_right() -> None:
    corner = CHART.pixels_of(np.array([[-CHART.half * CHART.pitch_rad, 2 * CHART.pitch_rad]]))
    assert corner == pytest.approx(np.array([[CHART.half + 2.0, 0.0]]))

"""Skin grown by a ball: exact distances on a sphere, a plane and into a concave edge."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.face.clearance import grown_by_ball, grown_by_balls

from .shapes import chart_at, plane, plane_radii, sphere, surface_of

INNER = (slice(20, -20), slice(20, -20))


@pytest.mark.parametrize("distance", [-2.0, 1.0, 3.0, 7.0])
def test_sphere_grows_to_the_larger_sphere(distance: float) -> None:
    face = sphere(75.0, half=60)
    grown = grown_by_ball(face.chart, face.radii, distance)
    # Balls stand on pixels s = 0.75 mm apart; half of the dip between them, s^2 / (8 c), is added everywhere.
    slack = 0.75**2 / (8 * abs(distance)) / 2 + 1e-6
    assert np.abs(grown - 75.0 - distance)[INNER].max() < slack


@pytest.mark.parametrize("distance", [1.0, 3.0, 7.0])
def test_plane_moves_forward(distance: float) -> None:
    face = plane(-75.0, half=60)
    grown = grown_by_ball(face.chart, face.radii, distance)
    points = face.chart.centre + face.chart.directions * grown[..., None]
    # In the corners rays meet the plane at 45 degrees, so pixels stand s = 1.5 mm apart on it; half of the
    # dip between balls is s^2 / (16 c).
    assert np.abs(points[..., 1] + 75.0 + distance)[INNER].max() < 1.5**2 / (16 * distance)


def test_nothing_happens_at_no_distance() -> None:
    face = sphere(75.0, half=30)
    assert np.array_equal(grown_by_ball(face.chart, face.radii, 0.0), face.radii)


def groove() -> np.ndarray:
    """A right-angled groove along Z, its bottom at Y = -60: the lower of two tilted planes."""
    chart = chart_at(half=60)
    d = chart.directions
    left = 60.0 / (-d[..., 1] - d[..., 0]), 60.0 / (-d[..., 1] + d[..., 0])
    return np.maximum(*(np.where(t > 0, t, -np.inf) for t in left))


@pytest.mark.parametrize("distance", [2.0, 5.0])
def test_concave_edge_is_rounded_as_distance_does(distance: float) -> None:
    """Points of the grown surface are exactly ``distance`` away from the nearer flank of the groove."""
    chart = chart_at(half=60)
    radii = groove()
    grown = grown_by_ball(chart, radii, distance)
    points = (chart.directions * grown[..., None])[INNER]
    # Flanks: Y = -60 - |X| (it opens towards the face at 45 degrees); distance to a flank is square to it.
    flank = np.minimum(
        np.abs(points[..., 1] + 60.0 + points[..., 0]), np.abs(points[..., 1] + 60.0 - points[..., 0])
    )
    near = np.hypot(points[..., 0], points[..., 1] + 60.0) < 30.0
    # 0.15 mm: rays meet the flanks at 45 degrees and less, so pixels stand up to 1.3 mm apart on them
    assert np.abs(flank / np.sqrt(2.0) - distance)[near].max() < 0.15


def test_balls_of_one_size_are_one_ball() -> None:
    face = sphere(75.0, half=60)
    whole = grown_by_ball(face.chart, face.radii, 4.0)
    some = grown_by_balls(face.chart, face.radii, np.full_like(face.radii, 4.0), 2)
    assert some == pytest.approx(whole[::2, ::2], abs=1e-12)


def test_balls_of_no_size_leave_the_skin() -> None:
    face = sphere(75.0, half=30)
    assert np.array_equal(
        grown_by_balls(face.chart, face.radii, np.zeros_like(face.radii), 3), face.radii[::3, ::3]
    )


def test_balls_that_fade_touch_the_straight_wall() -> None:
    """On a plane, balls of size k x beside a line x = 0 touch the plane that rises at asin(k)."""
    face, rise = plane(-75.0, half=60), 0.5
    across = face.points[..., 0]
    sizes = np.where(across > 0, np.minimum(rise * across, 9.0), 0.0)
    grown = grown_by_balls(face.chart, face.radii, sizes, 1)
    points = face.chart.directions * grown[..., None]
    wall = (points[..., 0] > 2.0) & (points[..., 0] < 12.0) & (np.abs(points[..., 2]) < 20.0)
    height = -points[..., 1] - 75.0
    expected = np.tan(np.arcsin(rise)) * points[..., 0]
    # 0.1 mm: balls stand on pixels, and small ones near the line leave dents between them
    assert np.abs(height - expected)[wall].max() < 0.1


def test_unknown_pixels_continue_the_nearest_skin() -> None:
    chart = chart_at(half=30)
    radii = plane_radii(chart, -75.0)
    radii[:, :20] = np.nan
    grown = grown_by_ball(chart, radii, 2.0)
    assert np.isfinite(grown).all()
    assert surface_of(chart, radii).known.sum() == np.isfinite(radii).sum()

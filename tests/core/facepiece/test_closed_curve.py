"""Closed curves, against circles and hand-made polygons."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from sealwright.facepiece.closed_curve import (
    arc_lengths,
    closed_spline,
    crossings,
    resampled,
    smoothed_round,
    tangents_round,
)


def circle(count: int, radius: float = 10.0) -> np.ndarray:
    turn = 2 * np.pi * np.arange(count) / count
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def test_spline_passes_through_its_points_and_closes_smoothly() -> None:
    control = np.array([[0.0, 0.0], [10.0, 1.0], [12.0, 8.0], [4.0, 12.0], [-3.0, 6.0]])
    dense = closed_spline(control, 20_000)
    for point in control:
        assert np.linalg.norm(dense - point, axis=1).min() < 2e-3
    step = np.diff(np.vstack([dense, dense[:2]]), axis=0)
    turn = np.arccos(
        np.clip(
            (step[1:] * step[:-1]).sum(1) / np.prod(np.linalg.norm([step[1:], step[:-1]], axis=2), axis=0),
            -1,
            1,
        )
    )
    assert turn.max() < 1e-3  # no kink, the seam included


def test_spline_through_a_circle_is_nearly_the_circle() -> None:
    # Cubic splines err by (5/384) h^4 f''''; for 12 points on a circle that is 1e-3 of the radius.
    assert np.linalg.norm(closed_spline(circle(12), 500), axis=1) == pytest.approx(
        np.full(500, 10.0), rel=1e-3
    )


def test_arc_length_of_a_polygon() -> None:
    square = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [0.0, 4.0]])
    assert arc_lengths(square).tolist() == [0.0, 3.0, 7.0, 10.0, 14.0]


def test_resampling_is_even_and_starts_where_asked() -> None:
    square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    even = resampled(square, arc_lengths(square), 8, 2.0)
    assert even == pytest.approx(np.array([[2, 0], [4, 0], [4, 2], [4, 4], [2, 4], [0, 4], [0, 2], [0, 0.0]]))


def test_smoothing_a_wave_damps_it_as_a_gaussian_does() -> None:
    """A Gaussian of deviation s multiplies a wave of k turns in n stations by exp(-(2 pi k s / n)^2 / 2)."""
    count, waves, sigma = 200, 5, 6.0
    wave = np.sin(2 * np.pi * waves * np.arange(count) / count)
    expected = np.exp(-0.5 * (2 * np.pi * waves * sigma / count) ** 2)
    # 1e-3: the kernel is cut at four deviations
    assert smoothed_round(wave, sigma) == pytest.approx(expected * wave, abs=1e-3)
    assert smoothed_round(wave, 0.0) is wave


def test_tangents_of_a_circle() -> None:
    points = circle(90)
    expected = np.stack([-points[:, 1], points[:, 0]], axis=1) / 10.0
    assert tangents_round(points) == pytest.approx(expected, abs=1e-12)


def test_crossed_segments_are_found() -> None:
    eight = np.array([[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]])
    assert crossings(eight).tolist() == [True, False, True, False]
    assert not crossings(circle(40)).any()


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=5, max_size=9, unique=True))
def test_crossings_agree_with_shapely(points: list[tuple[int, int]]) -> None:
    """Rings whose corners are in general position: shapely's validity is then absence of crossings."""
    ring = np.array(points, dtype=float) + 1e-3 * np.sin(np.arange(2 * len(points))).reshape(-1, 2)
    assert crossings(ring).any() == (not shapely.LinearRing(ring).is_simple)

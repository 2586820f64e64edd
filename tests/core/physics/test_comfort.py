"""Comfort figures against plane geometry and the rules they come from."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import BadRecipe
from sealwright.physics.comfort import (
    ComfortSettings,
    advised_hours,
    area_quantile,
    comfort_of,
    compare_bands,
    edge_points,
)
from sealwright.physics.contact import solve_contact
from sealwright.physics.loop import loop_of, patch_from_grid

from .bands import down, face_like, flat, head_band, yoke
from .closed_forms import uniform_foundation


def test_even_pressure_has_no_edge():
    patch = flat(60, 40, 30, 21)
    result = solve_contact(patch, [down(0, 0, 10.0)], foundation=uniform_foundation(patch, 10.0))
    found = comfort_of(patch, result)
    assert found.edge_ratio == pytest.approx(1.0, rel=1e-9)
    assert found.high_kpa == pytest.approx(found.peak_kpa, rel=1e-9)
    assert found.contact_cm2 == pytest.approx(24.0)
    assert found.over_capillary == 0.0
    assert "break" in found.text


def test_a_rolled_band_presses_at_its_edge():
    patch = flat(60, 40, 30, 41, gap=lambda g: 0.4 - 0.001 * g[:, 1] ** 2)  # edges 0.4 mm lower
    result = solve_contact(patch, [down(0, 0, 3.0)], foundation=uniform_foundation(patch, 10.0))
    assert comfort_of(patch, result).edge_ratio > 1.4


def test_share_over_the_capillary_pressure():
    # Linear pressure from 0 to 2 N/A (load at the edge of the kern): the share above p is 1 - p / (2 N / A).
    patch = flat(60, 40, 300, 4)
    result = solve_contact(patch, [down(10, 0, 10.0)], foundation=uniform_foundation(patch, 10.0))
    top = 2 * 10.0 / 2400 * 1e3
    assert comfort_of(patch, result).over_capillary == pytest.approx(1 - 4.27 / top, abs=0.005)
    assert comfort_of(patch, result).high_kpa == pytest.approx(0.95 * top, rel=0.005)


def test_hours_follow_the_rule():
    # Reswick and Rogers (from memory): 300 mmHg h; half of it is advised; beyond a day nothing is told.
    assert advised_hours(100 * 0.133322) == pytest.approx(1.5)
    assert advised_hours(1.0) == pytest.approx(150 * 0.133322)
    assert advised_hours(0.0) == 24.0
    assert advised_hours(60 * 0.133322, ComfortSettings(caution=1.0, longest_h=12.0)) == pytest.approx(5.0)
    with pytest.raises(BadRecipe, match="kPa"):
        advised_hours(-1.0)
    with pytest.raises(BadRecipe, match="mmHg h"):
        advised_hours(1.0, ComfortSettings(pressure_hours_mmhg_h=0.0))


def test_area_quantile_by_hand():
    assert area_quantile(np.array([3.0, 1.0, 2.0]), np.array([1.0, 8.0, 1.0]), 0.9) == 2.0
    assert area_quantile(np.array([]), np.array([]), 0.9) == 0.0


def test_edge_points_are_the_outer_strips():
    patch = face_like(30, 15, width=14.0)
    edge = edge_points(patch, loop_of(patch), 2.0)
    assert np.array_equal(edge, np.abs(patch.across_mm) >= 5.0 - 1e-9)


def test_narrow_edge_on_a_plane_presses_by_the_ratio_of_widths():
    # Uniform pressure: p = N / (w L), so the ratio is that of the widths, exactly; 20 cells across cut to 2.
    patch = flat(200, 20, 40, 20)
    found = compare_bands(patch, [down(0, 0, 10.0)], narrow_mm=2.0)
    assert found.area_ratio == pytest.approx(0.1, rel=1e-9)
    assert found.peak_ratio == pytest.approx(10.0, rel=1e-9)
    assert found.mean_ratio == pytest.approx(10.0, rel=1e-9)


def test_narrow_edge_on_a_face_hurts_more():
    found = compare_bands(face_like(160, 15), yoke(10.0), narrow_mm=3.0)
    assert found.mean_ratio > 3.0
    assert found.peak_ratio > 3.0
    assert found.narrow.advised_h < found.wide.advised_h
    assert found.narrow.over_capillary > found.wide.over_capillary
    assert "Landis" in found.wide.weakness[0]


@pytest.mark.scans
def test_narrow_edge_on_a_scanned_head_marks_within_about_two_hours():
    points, normals, across, region = head_band()
    patch = patch_from_grid(points, normals, 0.0, across, region)
    centre = patch.centre
    pulls = [
        type(p)(p.point * [1, 0, 1] + [0, centre[1] + 5, centre[2]], p.direction, p.tension_n)
        for p in yoke(8.0)
    ]
    found = compare_bands(patch, pulls, narrow_mm=3.0)
    # docs/design 7 (common practice): a narrow hard edge marks the skin within about two hours.
    assert found.narrow.advised_h < 2.5
    assert found.wide.advised_h > 1.8 * found.narrow.advised_h

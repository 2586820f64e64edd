"""Slopes and fills on turned shapes, whose angles and volumes are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sealwright.facepiece.overhang import PrintDown, fill_under_rim, overhang_deg, overhang_mm2

STATIONS = 192
DOWN = PrintDown((0.0, 0.0, -1.0), (0.0, 0.0, 0.0), 10.0, 44.0)


def turned(profile: np.ndarray) -> np.ndarray:
    """A grid (n, k, 3) of a profile (k, 2), radius and height, outermost row first, about +Z.

    Stations run so that along x across points outwards, as on a body seen with its port down.
    """
    angle = 2.0 * np.pi * np.arange(STATIONS) / STATIONS
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    flat = profile[None, :, 0, None] * ring[:, None]
    height = np.broadcast_to(profile[None, :, 1, None], (*flat.shape[:2], 1))
    return np.concatenate([flat, height], axis=-1)


@pytest.mark.parametrize("angle", [-30.0, 0.0, 20.0, 44.0, 60.0, 85.0])
def test_cone_overhangs_by_its_angle(angle: float) -> None:
    height = np.linspace(20.0, 0.0, 12)
    cone = turned(np.stack([30.0 + height * math.tan(math.radians(angle)), height], axis=1))
    # the flat sides of 192 stand a little steeper than the cone: under 0.01 degrees
    assert overhang_deg(cone, DOWN) == pytest.approx(angle, abs=0.01)


def test_area_past_the_limit_counts_both_sides() -> None:
    height = np.linspace(20.0, 0.0, 12)
    steep = turned(np.stack([30.0 + 2.0 * height, height], axis=1))  # 63 degrees out
    leaning = turned(np.stack([90.0 - 2.0 * height, height], axis=1))  # 63 degrees in
    upright = turned(np.stack([np.full(12, 30.0), height], axis=1))
    slant = math.hypot(20.0, 40.0)
    assert overhang_mm2(upright, upright, DOWN) == 0.0
    # frustum: pi (r1 + r2) slant; polygons of 192 sides lack 2e-4 of it
    assert overhang_mm2(steep, upright, DOWN) == pytest.approx(math.pi * 100.0 * slant, rel=1e-3)
    assert overhang_mm2(upright, leaning, DOWN) == pytest.approx(math.pi * 140.0 * slant, rel=1e-3)


def test_room_is_the_height_over_the_flattest_cone() -> None:
    slope = math.tan(math.radians(44.0))
    on = np.array([[10.0 + 20.0 * slope, 0.0, 20.0], [0.0, -10.0 - 5.0 * slope, 5.0]])
    assert DOWN.room_mm(on) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert DOWN.room_mm(on + np.array([0.0, 0.0, 3.0])) == pytest.approx([3.0, 3.0])


def flange(reach_mm: float, lean: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Edge and outer side of a wall of radius 20 with a level flange of 2 mm, 40 mm over the bed."""
    rim = 20.0 + 40.0 * lean + reach_mm
    under = np.stack([np.linspace(rim, rim - reach_mm, 9), np.full(9, 40.0)], axis=1)
    height = np.linspace(40.0, 0.0, 41)[1:]
    wall = np.stack([20.0 + lean * height, height], axis=1)
    turn = np.pi * np.arange(1, 4) / 4.0
    edge = np.stack([rim + np.sin(turn), 41.0 - np.cos(turn)], axis=1)
    return turned(edge), turned(np.concatenate([under, wall]))


@pytest.mark.parametrize("lean", [0.0, 0.4])
def test_fill_under_a_flange_leaves_no_overhang(lean: float) -> None:
    edge, outer = flange(10.0, lean)
    assert overhang_deg(outer, DOWN).max() == pytest.approx(90.0)
    filled_edge, filled = fill_under_rim(edge, outer, 9, DOWN, 1.0)
    whole = np.concatenate([filled_edge[:, ::-1], filled], axis=1)
    # it is made at the limit and 0.4 degrees, so that it meets a wall at the limit; 0.1: polygons
    assert overhang_deg(whole, DOWN).max() < DOWN.limit_deg + 0.5
    # and is no more than it must be: from the edge's tangent to the wall, a straight line in the profile
    radius, height = np.hypot(filled[0, :, 0], filled[0, :, 1]), filled[0, :, 2]
    inside = (radius > 21.5 + lean * height) & (np.arange(len(radius)) > 0)
    slope = np.polyfit(height[inside], radius[inside], 1)[0]
    assert slope == pytest.approx(math.tan(math.radians(44.4)), rel=0.01)


def test_fill_only_adds_and_ends_at_the_wall() -> None:
    edge, outer = flange(10.0)
    _, filled = fill_under_rim(edge, outer, 9, DOWN, 1.0)
    moved = np.linalg.norm(filled - outer, axis=2)
    normal = np.array([math.cos(math.radians(44.4)), math.sin(math.radians(44.4))])  # out, down
    step = filled[0] - outer[0]
    assert (step @ np.array([normal[0], 0.0, -normal[1]]) >= -1e-9).all()
    # 10 mm of flange need 10.2 mm of height; the rounding where the fill meets the wall takes 1.5 mm more
    lowest = outer[0, moved[0] > 0.05, 2].min()
    assert 26.0 < lowest < 31.0


def test_what_prints_is_left_alone() -> None:
    height = np.linspace(30.0, 0.0, 31)
    cone = turned(np.stack([20.0 + 0.8 * height, height], axis=1))
    edge = turned(np.array([[44.05, 30.2], [44.0, 30.8], [43.6, 31.2]]))
    kept_edge, kept = fill_under_rim(edge, cone, 31, DOWN, 1.0)
    assert np.array_equal(kept, cone)
    assert np.array_equal(kept_edge, edge)


def test_fill_of_one_side_ends_in_a_slope_along_the_line() -> None:
    """A flange on a third of the way round: its fill runs out beside it and makes no step."""
    share = np.clip(1.5 - np.abs(np.arange(STATIONS) / STATIONS - 0.5) * 9.0, 0.0, 1.0)
    share = share**2 * (3.0 - 2.0 * share)
    none, full = flange(0.01), flange(8.0)
    edge, outer = (a + share[:, None, None] * (b - a) for a, b in zip(none, full, strict=True))
    _, filled = fill_under_rim(edge, outer, 9, DOWN, 1.0)
    depth = np.linalg.norm(filled - outer, axis=2)
    gap = np.linalg.norm(np.roll(outer, -1, axis=0) - outer, axis=2)
    assert depth.max() > 3.0
    assert (np.abs(np.roll(depth, -1, axis=0) - depth) <= 1.25 * gap + 1e-9).all()

"""Thread profiles against plain geometry: widths, areas, arcs, normal offsets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sealwright.errors import DoesNotFit
from sealwright.hardware.threads import (
    Thread,
    metric_thread,
    printed_thread,
    round_thread,
    trapezoidal_thread,
)

from .gauges import arc_radius_mm, section_area_mm2


@pytest.mark.parametrize("thread", [printed_thread(50, 3), trapezoidal_thread(40, 7), metric_thread(42, 3)])
def test_ridge_and_space_are_equal_at_the_pitch_line(thread: Thread) -> None:
    profile = thread.male
    assert profile.width_mm(profile.pitch_radius_mm) == pytest.approx(0.5 * thread.pitch_mm, abs=1e-12)


def test_section_area_of_a_trapezoid() -> None:
    profile = trapezoidal_thread(40, 3).male
    top, base = profile.width_mm(profile.top_mm), profile.width_mm(profile.bottom_mm)
    assert section_area_mm2(profile) == pytest.approx(0.5 * (top + base) * 1.75, rel=1e-12)


def test_section_area_of_the_round_profile_is_half_the_rectangle() -> None:
    # Ridge and space of the external round thread are congruent, so each takes half of pitch times depth. The
    # chords of both arcs err alike, so this holds to rounding.
    profile = round_thread(40, 7).male
    assert section_area_mm2(profile) == pytest.approx(
        0.5 * profile.pitch_mm * 0.5 * profile.pitch_mm, rel=1e-9
    )


def test_chords_stay_close_to_the_arcs() -> None:
    profile = round_thread(40, 7).male
    line = profile.half_line()
    radius = arc_radius_mm(profile, top=True)
    centre = np.array([0.0, profile.top_mm - radius])
    middles = 0.5 * (line[:4] + line[1:5])
    # stated in profiles.py: four chords over 75 degrees at R 0.93 leave at most 0.013 mm
    assert np.max(radius - np.linalg.norm(middles - centre, axis=1)) < 0.013


def test_offset_is_normal_to_flat_and_flank() -> None:
    profile = printed_thread(50, 3).male
    moved = profile.moved_out(0.2)
    assert moved.top_mm - profile.top_mm == pytest.approx(0.2)
    # A 45 degree flank moved 0.2 along its normal moves 0.2 sqrt 2 along the axis; the lead adds 0.01 %.
    shift = 0.5 * (moved.width_mm(24.5) - profile.width_mm(24.5))
    assert shift == pytest.approx(0.2 * math.sqrt(2), rel=2e-4)


def test_clearance_that_eats_the_profile_is_refused() -> None:
    with pytest.raises(DoesNotFit):
        printed_thread(50, 1.0).female.moved_out(0.4).line()

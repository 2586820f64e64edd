"""Grip outlines: between their radii, upright, closed."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.hardware.knurl import PATTERNS, grip_outline


@pytest.mark.parametrize("pattern", PATTERNS)
def test_waves_stay_between_their_radii(pattern: str) -> None:
    wave, half = PATTERNS[pattern]
    radius = np.hypot(*grip_outline(50.0, pattern).T)
    assert radius.min() == pytest.approx(50.0)
    assert radius.max() == pytest.approx(50.0 + 2.0 * half)
    if half:
        # as many crests as wave lengths fit on the circle, to the nearest whole number
        crests = np.sum((radius > np.roll(radius, 1)) & (radius > np.roll(radius, -1)))
        assert crests == round(2 * np.pi * 50.0 / wave)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_outline_turns_once_counter_clockwise(pattern: str) -> None:
    x, y = grip_outline(50.0, pattern).T
    turning = np.diff(np.unwrap(np.arctan2(y, x)))
    assert turning.min() > 0
    assert turning.sum() < 2 * np.pi

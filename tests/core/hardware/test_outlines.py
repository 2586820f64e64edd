"""Seat outlines: areas, reach and insets by plain geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.hardware.options import HolderSettings
from sealwright.hardware.outlines import Seat, seat_of

SETTINGS = HolderSettings()


@pytest.mark.parametrize("shape", ["disc", "pad"])
def test_seat_outline_areas(shape: str) -> None:
    seat = seat_of(replace(SETTINGS, shape=shape))
    for inset in (0.0, 6.0):
        x, y = seat.inset(inset).T
        area = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
        # 128 sides of a disc lose 0.04 %, rounded corners far less
        assert area == pytest.approx(seat.area_mm2(inset), rel=6e-4)


def test_reach_and_least_half() -> None:
    # 60 x 40 with corners of 5: the corner's centre is at (25, 15), so the reach is |(25, 15)| + 5
    seat = Seat(False, 60.0, 40.0, 5.0)
    assert seat.reach_mm() == pytest.approx(np.hypot(25, 15) + 5)
    assert seat.least_half_mm(3.0) == pytest.approx(17.0)
    assert np.hypot(*seat.inset(0.0).T).max() == pytest.approx(
        seat.reach_mm(), abs=0.02
    )  # chords of a corner


def test_outward_inset_keeps_its_distance() -> None:
    seat = Seat(False, 60.0, 40.0, 5.0)
    grown = seat.inset(-2.0)
    assert grown.max(axis=0) == pytest.approx([32.0, 22.0])

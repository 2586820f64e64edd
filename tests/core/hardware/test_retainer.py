"""Frame over the medium: snaps or screws on the rim, clears the medium, prints plate down."""

from __future__ import annotations

from functools import cache

import pytest
from sealwright.hardware.holder import HolderParts, make_holder
from sealwright.hardware.options import HolderSettings, PortSettings
from sealwright.hardware.outlines import seat_of
from sealwright.hardware.retainer import snap_facts
from sealwright.solids.boolean import shared_volume, smallest_gap
from sealwright.solids.primitives import prism

from .gauges import ALLOWANCE, turned

CASES = {
    "disc": HolderSettings(),
    "pad": HolderSettings(shape="pad"),
    "screwed frame": HolderSettings(retainer="screw", grip="ribs", neck_mm=6.0),
}


@cache
def holder(name: str) -> HolderParts:
    return make_holder(CASES[name], PortSettings(), ALLOWANCE)


def test_frame_sits_clear_and_catches() -> None:
    for name in ("disc", "pad"):
        parts = holder(name)
        assert parts.retainer is not None
        assert shared_volume(parts.body, parts.retainer) < 1e-6
        assert smallest_gap(parts.body, parts.retainer, 1.0) == pytest.approx(0.2, abs=0.01)
        assert shared_volume(parts.retainer, parts.medium) < 1e-6
        pulled = parts.retainer.moved(turned(0.0, 1.2))
        assert shared_volume(parts.body, pulled) > 1.0  # the bead behind the rim


def test_screwed_frame_has_its_gap() -> None:
    parts = holder("screwed frame")
    assert parts.retainer is not None
    assert shared_volume(parts.body, parts.retainer) < 1e-6
    assert smallest_gap(parts.body, parts.retainer, 1.0) == pytest.approx(0.2, abs=0.02)
    assert shared_volume(parts.body, parts.retainer.moved(turned(0.0, 0.8))) > 1.0


def test_finger_strain_by_hand() -> None:
    # 1.5 t y / L^2 with t = 1.2, y = 0.5 and L = 1 + 2 + 3.2 + 0.2 + 0.7 = 7.1 mm: 1.79 %
    facts = snap_facts(CASES["disc"], ALLOWANCE)
    assert facts["snap_finger_length_mm"] == pytest.approx(7.1)
    assert facts["snap_finger_strain_percent"] == pytest.approx(1.785, abs=0.001)


@pytest.mark.parametrize(("name", "width"), [("disc", 98.0), ("pad", 78.0)])
def test_only_the_crossed_bars_stand_before_the_open_area(name: str, width: float) -> None:
    parts = holder(name)
    assert parts.retainer is not None
    column = prism(seat_of(CASES[name]).inset(6.0), 0.0, 60.0, "open area")
    bars = (3.0 * 98.0 + 3.0 * width - 9.0) * 2.0
    # the bars end on a circle of 128 sides and not square: 0.1 %
    assert shared_volume(parts.retainer, column) == pytest.approx(bars, rel=2e-3)

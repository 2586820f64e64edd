"""Port frames by their angles, and the point between the mouth corners."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from sealwright.designing.nearest_port import Hung
from sealwright.errors import LandmarkMissing
from sealwright.facepiece.port_place import PortPlaceSettings, mouth_middle, port_frame


@pytest.mark.parametrize(("tilt", "turn"), [(0.0, 0.0), (15.0, 0.0), (10.0, 40.0), (-20.0, -60.0)])
def test_axis_is_turned_as_asked(tilt: float, turn: float) -> None:
    """The same by scipy: -Y turned down about X, then towards the wearer's left about Z."""
    frame = port_frame(np.zeros(3), PortPlaceSettings(tilt_deg=tilt, turn_deg=turn, front_mm=30.0))
    axis = Rotation.from_euler("xz", [tilt, turn], degrees=True).apply([0.0, -1.0, 0.0])
    assert frame[:3, 2] == pytest.approx(axis, abs=1e-12)
    assert frame[:3, :3].T @ frame[:3, :3] == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame[:3, :3]) == pytest.approx(1.0)
    assert frame[:3, 3] == pytest.approx(30.0 * axis)
    assert frame[2, 1] > 0  # its Y points up


def test_raised_port() -> None:
    low, high = (port_frame(np.ones(3), PortPlaceSettings(raise_mm=r))[:3, 3] for r in (0.0, 5.0))
    assert high - low == pytest.approx([0.0, 0.0, 5.0])


def test_mouth_is_between_the_corners_at_the_depth_of_the_lips() -> None:
    marks = {"cheilion_left": [24.0, 12.0, -22.0], "cheilion_right": [-26.0, 13.0, -24.0]}
    assert mouth_middle({k: np.array(v) for k, v in marks.items()}) == pytest.approx([-1.0, 0.0, -23.0])
    marks["stomion"] = [0.0, 2.5, -20.0]
    assert mouth_middle({k: np.array(v) for k, v in marks.items()})[1] == 2.5


def test_missing_mouth_corner_is_named() -> None:
    with pytest.raises(LandmarkMissing, match="cheilion_right") as refusal:
        mouth_middle({"cheilion_left": np.zeros(3)})
    assert "cheilion_right" in refusal.value.where.key


def test_what_is_put_on_a_port_keeps_off_points_by_moving_out() -> None:
    # By hand: a cap of radius 20 that ends 1 mm over the boss, on a port at 10 mm along +Z.
    frame = np.eye(4)
    frame[2, 3] = 10.0
    hung = Hung(17.0, None, 1.0, 3.4, None, put_on=(20.0, 1.0))
    under, beside, behind = [12.0, 16.0, 14.5], [60.0, 0.0, 90.0], [0.0, 0.0, -5.0]
    # (12, 16) is 20 mm off the axis; 4.5 mm over the port's origin, 3.5 over the cap's end, and 0.5 to spare.
    assert hung.needs_mm(frame, np.array([under, beside, behind]), 0.5) == pytest.approx(4.0)
    assert hung.needs_mm(frame, np.array([beside]), 0.5) == -np.inf
    assert Hung(17.0, None, 1.0, 3.4, None).needs_mm(frame, np.array([under]), 0.5) == -np.inf

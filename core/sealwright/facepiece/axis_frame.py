"""Axes by tilt and turn, and the frames along them."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats


def axis_along(tilt_deg: float, turn_deg: float) -> Floats:
    """The unit axis (3,) that is tilted below the horizontal and turned towards the wearer's left."""
    tilt, turn = np.radians(tilt_deg), np.radians(turn_deg)
    return np.array([np.sin(turn) * np.cos(tilt), -np.cos(turn) * np.cos(tilt), -np.sin(tilt)])


def angles_of(axis: Floats) -> tuple[float, float]:
    """Tilt below the horizontal and turn towards the wearer's left of a unit axis (3,), degrees."""
    tilt = np.degrees(np.arcsin(np.clip(-axis[2], -1.0, 1.0)))
    level = np.hypot(axis[0], axis[1]) > 1e-9
    return float(tilt), float(np.degrees(np.arctan2(axis[0], -axis[1]))) if level else 0.0


def frame_along(origin: Floats, axis: Floats, roll_deg: float = 0.0) -> Floats:
    """The 4x4 frame at a place (3,) with +Z along a unit axis (3,) and +Y up, turned about the axis."""
    up = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.999 else np.array([0.0, 1.0, 0.0]) * np.sign(axis[2])
    up = up - (up @ axis) * axis
    up /= np.linalg.norm(up)
    across = np.cross(up, axis)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    frame = np.eye(4)
    frame[:3, :3] = np.stack([c * across + s * up, c * up - s * across, axis], axis=1)
    frame[:3, 3] = origin
    return frame

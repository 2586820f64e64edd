"""Expressions of the procedural head: the jaw opens about its joints, the corners of the mouth smile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sealwright.mesh import Bools, Floats, Ints

from .head_warp import ramp, window

JOINT = np.array([0.0, 88.0, 12.0])
"""Axis of the jaw, through both joints, in the frame of the sculpted head, mm (by eye)."""

CORNER_MM, REACH_MM = 25.5, 90.0
"""Half of the line between the lips, and the distance of the lips from the axis of the jaw, mm."""

_LIP_GAP_MM = 1.2  # width of the ramp that parts the lips: what it stretches is cut out afterwards
_CHEEK_GAP_MM = 26.0  # outside the corners the cheek takes up the opening


@dataclass(frozen=True)
class Expression:
    """What the soft face does.

    Attributes
    ----------
    jaw_deg : turn of the jaw about its joints, degrees; 0 is closed.
    smile_mm : how far each mouth corner is drawn outward and up, mm.
    """

    jaw_deg: float = 0.0
    smile_mm: float = 0.0

    def moved(self, p: Floats) -> Floats:
        """Points (n, 3), mm, frame of the sculpted head, after the expression."""
        return self._smiled(self._opened(p))

    def parted(self, p: Floats, faces: Ints) -> Bools:
        """Triangles (m,) that the parting lips tear: the opening of the mouth, no skin.

        Parameters
        ----------
        p, faces : (n, 3) and (m, 3), frame of the sculpted head, before the expression.
        """
        lips, opening = _lips(p)[faces], _taper(p)[faces].mean(axis=1)
        middle = p[faces].mean(axis=1)
        inside = (np.abs(middle[:, 0]) < CORNER_MM) & (middle[:, 1] < 40.0)
        inside &= np.abs(middle[:, 2] - mouth_line(middle[:, 0])) < 4.0
        torn_mm = np.radians(self.jaw_deg) * REACH_MM * opening * np.ptp(lips, axis=1)
        return np.asarray(inside & (torn_mm > 1.0))

    def _jaw(self, p: Floats) -> Floats:
        """Share (n,) of the jaw's turn: 1 on chin and lower lip, 0 above the mouth and on the neck."""
        taper = _taper(p)
        below = taper * _lips(p) + (1.0 - taper) * _below(p, _CHEEK_GAP_MM)
        front = 1.0 - ramp(p[:, 1], 62.0, 112.0, 8.0)
        throat = 1.0 - ramp(-p[:, 2] + 0.9 * p[:, 1], 92.0, 150.0, 8.0)
        return np.asarray(below * np.clip(front, 0.0, 1.0) * np.clip(throat, 0.0, 1.0))

    def _opened(self, p: Floats) -> Floats:
        angle = np.radians(self.jaw_deg) * self._jaw(p)
        y, z = p[:, 1] - JOINT[1], p[:, 2] - JOINT[2]
        c, s = np.cos(angle), np.sin(angle)
        # The front of the face (-Y) goes down.
        return np.column_stack([p[:, 0], JOINT[1] + c * y - s * z, JOINT[2] + s * y + c * z])

    def _smiled(self, p: Floats) -> Floats:
        side = np.tanh(p[:, 0] / 6.0)
        folded = np.abs(p[:, :1])
        at = np.hstack([folded, p[:, 1:]])
        corner = window(at, (26.0, 12.0, -22.0), (17.0, 26.0, 17.0))
        cheek = window(at, (38.0, 26.0, 2.0), (24.0, 30.0, 20.0))
        amount = self.smile_mm
        move = np.column_stack(
            [
                side * (0.75 * corner + 0.15 * cheek),
                0.35 * corner - 0.35 * cheek,
                0.55 * corner + 0.25 * cheek,
            ]
        )
        return np.asarray(p + amount * move)


def _taper(p: Floats) -> Floats:
    """How far (n,) the mouth opens there: 1 in the middle, 0 at the corners and beyond."""
    return np.asarray(np.clip(1.0 - (p[:, 0] / CORNER_MM) ** 2, 0.0, 1.0))


def _below(p: Floats, gap_mm: float) -> Floats:
    """1 below the line between the lips, 0 above it (n,), passing over within about ``gap_mm``."""
    return np.asarray(0.5 - 0.5 * np.tanh(2.0 * (p[:, 2] - mouth_line(p[:, 0])) / gap_mm))


def _lips(p: Floats) -> Floats:
    return _below(p, _LIP_GAP_MM)


def mouth_line(x: Floats) -> Floats:
    """Height (n,) of the line between the lips of the sculpted head over x, mm (`head_shape`)."""
    return np.interp(np.abs(x), [0.0, 4.0, 9.0, 17.0, 24.0, 29.0], [-22.4, -22.1, -21.4, -21.9, -22.6, -23.4])

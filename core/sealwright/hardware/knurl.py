"""Grip for a round part: an upright wave round it, which prints without overhang."""

from __future__ import annotations

import math

import numpy as np

from ..mesh import Floats

PATTERNS = {"knurl": (2.6, 0.5), "ribs": (14.0, 1.2), "none": (0.0, 0.0)}  # wave length and half height, mm
_POINTS = 6  # outline points per wave


def grip_outline(radius_mm: float, pattern: str, most_mm: float = 10.0) -> Floats:
    """Outline (k, 2), mm, of a round part; its waves rise over the radius by twice the half height.

    ``most_mm`` bounds their height where there is less room.
    """
    wave, half = PATTERNS[pattern]
    half = min(half, 0.5 * most_mm)
    if half == 0.0:
        turn = np.arange(128) * (2.0 * math.pi / 128)
        return radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    waves = max(6, round(2.0 * math.pi * radius_mm / wave))
    turn = np.arange(waves * _POINTS) * (2.0 * math.pi / (waves * _POINTS))
    radius = radius_mm + half * (1.0 - np.cos(waves * turn))
    outline: Floats = radius[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return outline

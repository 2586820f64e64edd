"""Landmarks of the midline, by rulers laid on the profile: none of them hangs on how the head is tilted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .profile import Profile, bridge, deepest_below_chord, peak

MENTON_TANGENT_DEG = 45.0
"""The chin's lowest point is where a ruler at this angle, forward and down, touches it (common practice)."""


@dataclass(frozen=True)
class Spot:
    """A landmark on the depth map.

    Attributes
    ----------
    x, z : place, mm, face frame.
    strength : 0..1, how clear the feature is.
    """

    x: float
    z: float
    strength: float


def nose_landmarks(profile: Profile, size: float) -> dict[str, Spot]:
    """Glabella, sellion, pronasale and subnasale.

    Sellion and subnasale are the points farthest behind a ruler laid from the nose tip to the forehead and to
    the upper lip; pronasale is the point farthest in front of the line from sellion to subnasale.
    """
    z, h = profile.piece(4.0 * size, 32.0 * size)
    tip, _, _ = peak(z, h)
    z, h = profile.piece(tip, tip + 64.0 * size)
    low, high = bridge(z, h)
    sellion, root_depth = deepest_below_chord(*profile.piece(low, high))
    z, h = profile.piece(tip - 44.0 * size, tip)
    low, _ = bridge(z, h)
    subnasale, base_depth = deepest_below_chord(*profile.piece(low, tip))
    z, h = profile.piece(subnasale, sellion)
    place, reach = deepest_below_chord(z, -h)
    root, base = _ramp(root_depth / size, 2.0, 6.0), _ramp(base_depth / size, 2.0, 6.0)
    return {
        "glabella": Spot(0.0, high, 0.6 * root),
        "sellion": Spot(0.0, sellion, root),
        "pronasale": Spot(0.0, place, _ramp(reach / size, 6.0, 14.0)),
        "subnasale": Spot(0.0, subnasale, base),
    }


def chin_landmarks(profile: Profile, size: float, sellion: float, stomion: float) -> dict[str, Spot]:
    """Supramenton, pogonion and menton from the profile below the mouth."""
    floor = max(_lowest_known(profile, stomion), stomion - 62.0 * size)
    slope = 0.0
    pogonion, bow = stomion - 28.0 * size, 0.0
    for _ in range(3):
        z, h = profile.piece(max(floor, stomion - 42.0 * size), stomion - 16.0 * size)
        if len(z) < 12:
            return {}
        pogonion, _, bow = peak(z, h - slope * z, 4.0)
        level = np.interp([pogonion, sellion], profile.z, profile.height)
        slope = float((level[1] - level[0]) / (sellion - pogonion))
    z, h = profile.piece(pogonion, stomion - 2.0)
    low, high = bridge(z, h) if len(z) > 12 else (pogonion, stomion)
    supramenton, groove = deepest_below_chord(*profile.piece(low, high))
    menton, clear = _menton(profile, floor, pogonion, slope)
    return {
        "supramenton": Spot(0.0, supramenton, _ramp(groove / size, 0.3, 2.0)),
        "pogonion": Spot(0.0, pogonion, _ramp(bow * size, 0.004, 0.03)),
        "menton": Spot(0.0, menton, clear),
    }


def _menton(profile: Profile, floor: float, pogonion: float, slope: float) -> tuple[float, float]:
    """Where the ruler touches the chin from below, and whether there is skin beyond it."""
    z, h = profile.piece(floor, pogonion)
    if len(z) < 12:
        return floor, 0.1
    angle = np.radians(MENTON_TANGENT_DEG) + np.arctan(slope)
    place, _, bend = peak(z, -z * np.cos(angle) + h * np.sin(angle), 2.0)
    beyond = _ramp(place - floor, 0.5, 5.0)
    return place, float(0.15 + 0.85 * beyond * _ramp(bend, 0.01, 0.08))


def _lowest_known(profile: Profile, start: float) -> float:
    """Follow the skin down from ``start`` until it ends; gaps up to 4 mm, as at the lips, do not count."""
    below = profile.z < start - 14.0
    z, known = profile.z[below][::-1], profile.known[below][::-1]
    if not known.any():
        return start
    last = z[known][0]
    steps = -np.diff(z[known])
    breaks = np.flatnonzero(steps > 4.0)
    end = breaks[0] if len(breaks) else len(steps)
    return float(z[known][end]) if known[0] or start - last < 20.0 else start


def _ramp(value: float, low: float, high: float) -> float:
    """0 at ``low``, 1 at ``high``, straight between."""
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def height_at(profile: Profile, z: Floats) -> Floats:
    """Height of the midline at given z (n,), mm."""
    return np.interp(z, profile.z, profile.height)

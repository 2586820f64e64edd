"""Landmarks of the midline, by rulers laid on the profile: none of them hangs on how the head is tilted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .profile import MidlineProfile, bridge, deepest_below_chord, peak

MENTON_RULER_DEG, MENTON_LEAN = 54.0, 2.0
"""Menton is where a ruler held at this angle, forward and down, touches the chin. A chin that juts turns
under later, so the ruler leans by twice the lean of the face line (both fitted to open head models)."""


@dataclass(frozen=True)
class Spot:
    """A landmark on the depth map.

    Attributes
    ----------
    x, z : place, mm, face frame.
    strength : 0..1, how clear the feature is.
    height : mm in front of the frame's origin plane, where it is not simply that of the map.
    """

    x: float
    z: float
    strength: float
    height: float | None = None


def nose_landmarks(profile: MidlineProfile, size: float) -> dict[str, Spot]:
    """Glabella, sellion, pronasale and subnasale.

    Sellion and subnasale are the points farthest behind a ruler laid from the nose tip to the forehead and to
    the upper lip; pronasale is the point farthest in front of the line from sellion to subnasale.
    """
    z, h = profile.piece(4.0 * size, 32.0 * size)
    tip, _, _ = peak(z, h)
    z, h = profile.piece(tip, tip + 64.0 * size)
    low, high = bridge(z, h, tip, 3.0 * size, 18.0 * size)
    sellion, root_depth = deepest_below_chord(*profile.piece(low, high))
    z, h = profile.piece(tip - 44.0 * size, tip)
    low, _ = bridge(z, h, tip, 3.0 * size, 7.0 * size)
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


def chin_landmarks(profile: MidlineProfile, size: float, sellion: float, stomion: float) -> dict[str, Spot]:
    """Supramenton, pogonion and menton from the profile below the mouth; empty where it ends too soon.

    Pogonion is the point farthest in front of the line from the lower lip to menton.
    """
    floor = max(_lowest_known(profile, stomion), stomion - 62.0 * size)
    lip = stomion - 14.0 * size
    pogonion, menton, clear, bow = stomion - 28.0 * size, floor, 0.1, 0.0
    if lip - floor < 20.0 * size:
        return {}
    for _ in range(3):
        level = np.interp([pogonion, sellion], profile.z, profile.height)
        slope = float((level[1] - level[0]) / (sellion - pogonion))
        menton, clear = _menton(profile, floor, pogonion, slope)
        z, h = profile.piece(menton, lip)
        if len(z) < 40:
            return {}
        pogonion, bow = deepest_below_chord(z, -h)
    z, h = profile.piece(pogonion, stomion - 2.0)
    low, high = bridge(z, h, pogonion, 0.7 * size, 4.0 * size)
    supramenton, groove = deepest_below_chord(*profile.piece(low, high))
    return {
        "supramenton": Spot(0.0, supramenton, _ramp(groove / size, 0.3, 2.0)),
        "pogonion": Spot(0.0, pogonion, _ramp(bow / size, 0.5, 2.5)),
        "menton": Spot(0.0, menton, clear),
    }


def _menton(profile: MidlineProfile, floor: float, pogonion: float, slope: float) -> tuple[float, float]:
    """Where the ruler touches the chin from below, and whether there is skin beyond it."""
    z, h = profile.piece(floor, pogonion)
    if len(z) < 12:
        return floor, 0.1
    angle = np.radians(MENTON_RULER_DEG) + MENTON_LEAN * np.arctan(slope)
    place, _, bend = peak(z, -z * np.cos(angle) + h * np.sin(angle), 2.0)
    beyond = _ramp(place - floor, 0.5, 5.0)
    return place, float(0.15 + 0.85 * beyond * _ramp(bend, 0.01, 0.08))


def _lowest_known(profile: MidlineProfile, start: float) -> float:
    """Follow the skin down from ``start`` until it ends; gaps up to 8 mm, as holes have, do not count."""
    below = profile.z < start - 14.0
    z, known = profile.z[below][::-1], profile.known[below][::-1]
    if not known.any():
        return start
    last = z[known][0]
    steps = -np.diff(z[known])
    breaks = np.flatnonzero(steps > 8.0)
    end = breaks[0] if len(breaks) else len(steps)
    return float(z[known][end]) if known[0] or start - last < 20.0 else start


def _ramp(value: float, low: float, high: float) -> float:
    """0 at ``low``, 1 at ``high``, straight between."""
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))

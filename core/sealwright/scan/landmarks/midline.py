"""Landmarks of the midline, by rulers laid on the profile: none of them hangs on how the head is tilted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .chin import find_menton
from .profile import MidlineProfile, bridge, deepest_below_chord, peak

LEAST_CHIN_MM = 12.0
"""Less skin than this between the lower lip and menton is no chin, on a face of usual size."""


POGONION_LEAN = 0.5
"""Share of the lean of the line from lip to menton by which the ruler leans that finds pogonion."""

POGONION_LIFT_MM = 1.5
"""The leaning ruler touches so much too low, on invented heads of a usual size (numbers 1000 to 1039)."""


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


def chin_landmarks(profile: MidlineProfile, size: float, subnasale: float, stomion: float) -> dict[str, Spot]:
    """Supramenton, pogonion and menton from the profile below the mouth; empty where it ends too soon.

    Pogonion is the foremost point of the chin between lower lip and menton.
    """
    lip = stomion - 14.0 * size
    chin = find_menton(profile, subnasale, size)
    if chin is None or lip - chin.z < LEAST_CHIN_MM * size:
        return {}
    z, h = profile.piece(chin.z, lip)
    bulge, bow = deepest_below_chord(z, -h)
    z, h = profile.piece(bulge, stomion - 2.0)
    low, high = bridge(z, h, bulge, 0.7 * size, 4.0 * size)
    supramenton, groove = deepest_below_chord(*profile.piece(low, high))
    pogonion = _foremost(profile, chin.z, min(supramenton, lip)) + POGONION_LIFT_MM * size
    return {
        "supramenton": Spot(0.0, supramenton, _ramp(groove / size, 0.3, 2.0)),
        "pogonion": Spot(0.0, pogonion, _ramp(bow / size, 0.5, 2.5)),
        "menton": Spot(0.0, chin.z, chin.chance, chin.height),
    }


def _foremost(profile: MidlineProfile, low: float, high: float) -> float:
    """Foremost point of the chin, leaning half as much as the line from its groove to menton does.

    An upright chin is not pulled down by its under-side; a receding one still has a foremost point.
    """
    z, h = profile.piece(low, high)
    lean = POGONION_LEAN * (h[-1] - h[0]) / (z[-1] - z[0])
    return peak(z, h - lean * z, 2.0)[0]


def lowest_known(profile: MidlineProfile, start: float) -> float:
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

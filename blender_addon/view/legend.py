# SPDX-License-Identifier: GPL-3.0-or-later
"""What the colours of a map mean, and the colours themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


CLASS_COLOURS = ((0.835, 0.369, 0.0), (0.8, 0.475, 0.655))
"""Vermilion and reddish purple (Okabe and Ito), sRGB: not on the scale, and unlike the grey scan below."""


@dataclass(frozen=True)
class MapLegend:
    """What the colours of a map mean.

    Attributes
    ----------
    key, title, unit : which map.
    low, high : ends of the colour scale; values beyond take the end colours.
    limit, limit_text : the value that must hold, and how.
    classes : names of places that have a colour instead of a value, with | between; see `CLASS_COLOURS`.
    """

    key: str
    title: str
    unit: str
    low: float
    high: float
    limit: float
    limit_text: str
    classes: str = ""


def linear_colours(values: Floats, low: float, high: float) -> Floats:
    """RGBA (n, 4), linear light as Blender's float colours want it, of values on the scale."""
    from ..core.render.colormap import colours_of

    return linear_of(colours_of(values, low, high))


def linear_of(srgb: Floats) -> Floats:
    """RGBA (n, 4) in linear light of sRGB colours (n, 3)."""
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
    return np.concatenate([linear, np.ones((len(linear), 1))], axis=1)

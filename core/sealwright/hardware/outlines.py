"""The outline of the filter seat: a disc or a rectangle with rounded corners, and its insets."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..mesh import Floats
from ..solids.primitives import circle, rounded_rectangle
from .options import HolderSettings

_CORNER_POINTS = 16
_LEAST_CORNER_MM = 0.5  # inset corners keep at least this radius


@dataclass(frozen=True)
class Seat:
    """The outline of the medium, centred on the axis.

    Attributes
    ----------
    disc : round; then ``length_mm`` = ``width_mm`` = diameter.
    length_mm, width_mm : along X and Y.
    corner_mm : corner radius of a rectangle.
    """

    disc: bool
    length_mm: float
    width_mm: float
    corner_mm: float

    def inset(self, by_mm: float) -> Floats:
        """Outline (k, 2), mm, counter-clockwise, moved inward by a distance (negative: outward)."""
        if self.disc:
            return circle(0.5 * self.length_mm - by_mm)
        corner = max(self.corner_mm - by_mm, _LEAST_CORNER_MM)
        return rounded_rectangle(
            self.length_mm - 2.0 * by_mm, self.width_mm - 2.0 * by_mm, corner, _CORNER_POINTS
        )

    def area_mm2(self, inset_mm: float = 0.0) -> float:
        """Area inside the true (not faceted) inset outline."""
        length, width = self.length_mm - 2.0 * inset_mm, self.width_mm - 2.0 * inset_mm
        if self.disc:
            return 0.25 * math.pi * length**2
        corner = max(self.corner_mm - inset_mm, _LEAST_CORNER_MM)
        return length * width - (4.0 - math.pi) * corner**2

    def reach_mm(self, inset_mm: float = 0.0) -> float:
        """Largest distance of the inset outline from the axis."""
        if self.disc:
            return 0.5 * self.length_mm - inset_mm
        corner = max(self.corner_mm - inset_mm, _LEAST_CORNER_MM)
        half = (0.5 * self.length_mm - inset_mm - corner, 0.5 * self.width_mm - inset_mm - corner)
        return math.hypot(*half) + corner

    def least_half_mm(self, inset_mm: float = 0.0) -> float:
        """Smallest distance of the inset outline from the axis."""
        return 0.5 * min(self.length_mm, self.width_mm) - inset_mm


def seat_of(settings: HolderSettings) -> Seat:
    """The outline the holder's settings ask for."""
    if settings.shape == "disc":
        return Seat(True, settings.disc_mm, settings.disc_mm, 0.0)
    return Seat(False, settings.pad_length_mm, settings.pad_width_mm, settings.pad_corner_mm)

"""Conical connectors of ISO 5356-1: diameters along the 1:40 taper, from the gauge plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..tables import table


@dataclass(frozen=True)
class ConeSize:
    """A cone and its socket.

    Attributes
    ----------
    name : nominal size.
    gauge_mm : diameter in the gauge plane, and of the mouth of the socket.
    gauge_from_tip_mm : distance of the cone's gauge plane from its tip.
    taper : change of diameter per length (1/40).
    cone_length_mm, socket_depth_mm : tapered lengths.
    shoulder_mm : diameter of the shoulder behind the cone.
    confidence : V, C or M of the gauge diameter.
    """

    name: str
    gauge_mm: float
    gauge_from_tip_mm: float
    taper: float
    cone_length_mm: float
    socket_depth_mm: float
    shoulder_mm: float
    confidence: str

    @property
    def half_angle_deg(self) -> float:
        """Half the cone's angle, degrees: atan of half the taper."""
        return math.degrees(math.atan(0.5 * self.taper))

    def cone_diameter_mm(self, from_tip_mm: float) -> float:
        """Diameter of the male cone at a distance from its tip."""
        return cone_diameter(self.gauge_mm, self.taper, self.gauge_from_tip_mm - from_tip_mm)

    def socket_diameter_mm(self, depth_mm: float) -> float:
        """Diameter of the socket at a depth from its mouth."""
        return cone_diameter(self.gauge_mm, self.taper, depth_mm)


def cone_diameter(gauge_mm: float, taper: float, toward_tip_mm: float) -> float:
    """Diameter of a cone at a distance from its gauge plane towards the tip (negative: away from it), mm."""
    return gauge_mm - taper * toward_tip_mm


def cone_size(name: str) -> ConeSize:
    """A cone by its nominal size, "22" or "15"."""
    row = table("connectors")["iso_5356_1"]["sizes"][name]
    values = {key: row[key]["value"] for key in row}
    return ConeSize(name=name, **values, confidence=row["gauge_mm"]["confidence"])

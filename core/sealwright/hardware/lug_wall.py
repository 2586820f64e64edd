"""The wall that a lug stands on, as heights over a plane that is vertical in the print."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Bools, Floats

HEIGHTS_MM = tuple(float(y) for y in range(-36, 17, 2))  # along Y of the lug frame, upwards in the print
NOTHING_MM = -10_000.0
_LEAN_OVER_MM = 10.0  # up and down from the origin
_SLOT = 7  # places within the slot, about 2 mm apart
PLACES = _SLOT + 4  # across: outer and inner side of the left fin, the slot, inner and outer of the right


@dataclass(frozen=True)
class LugWall:
    """The outer side of a body under a lug, in the lug's frame.

    Attributes
    ----------
    z_mm : for each of the `PLACES` across, left to right, the surface at `HEIGHTS_MM`; far below the origin
        (`NOTHING_MM`) where there is no wall.
    """

    z_mm: tuple[tuple[float, ...], ...]

    def at(self, place: int, y_mm: float | Floats) -> Floats:
        """Surface at heights (...) at one place across, mm."""
        return np.asarray(np.interp(y_mm, HEIGHTS_MM, self.z_mm[place]))

    def exists(self, place: int, y_mm: float | Floats) -> Bools:
        """Whether there is wall at heights (...) at one place across."""
        return np.asarray(self.at(place, y_mm) > 0.01 * NOTHING_MM)

    @property
    def lean_deg(self) -> float:
        """How far the wall under the slot leans out over the bed, degrees from the vertical.

        Between 10 mm under and 10 mm over the origin, or as much of that as there is wall; 0 without any.
        """
        heights = np.array(HEIGHTS_MM)
        heights = heights[np.abs(heights) <= _LEAN_OVER_MM]
        heights = heights[self.exists(PLACES // 2, heights)]
        if len(heights) < 2:
            return 0.0
        low, high = self.at(PLACES // 2, heights[[0, -1]])
        return float(np.degrees(np.arctan2(high - low, heights[-1] - heights[0])))


def plane_wall(lean_deg: float = 0.0, fall_mm: tuple[float, float] = (0.0, 0.0)) -> LugWall:
    """A wall that leans out over the bed and falls away evenly to the left and right edge of a lug."""
    rise = np.tan(np.radians(lean_deg)) * np.asarray(HEIGHTS_MM)
    across = np.linspace(-1.0, 1.0, PLACES)
    fall = np.where(across < 0, fall_mm[0], fall_mm[1]) * across**2
    return LugWall(tuple(tuple((rise - drop).tolist()) for drop in fall))


def across_mm(half_span_mm: float, thickness_mm: float) -> Floats:
    """X (k,) of the `PLACES` across a lug whose fins, of a thickness, stand half a span off its middle."""
    edge = 0.5 * thickness_mm
    inner, outer = half_span_mm - edge, half_span_mm + edge
    return np.concatenate([[-outer], np.linspace(-inner, inner, _SLOT + 2), [outer]])

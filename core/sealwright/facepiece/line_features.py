"""Lips, nostrils and eyes, which the seal line keeps away from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..errors import SealLineCrossing, Where, plain_point
from ..limits import line_distance_mm
from ..mesh import Floats


@dataclass(frozen=True, eq=False)
class TooNearTo:
    """A landmark that a line passes too near to: its name, distance and least distance in mm, the station."""

    name: str
    away_mm: float
    least_mm: float
    station: int

    def refusal(self, points: Floats) -> SealLineCrossing:
        """The refusal of the line (n, 3), mm."""
        return SealLineCrossing(
            f"The seal line passes {self.away_mm:.1f} mm from {self.name}; it needs {self.least_mm:.0f} mm.",
            Where("seal line", point=plain_point(points[self.station]), indices=(self.station,)),
            f"Move the seal line away from {self.name}, or correct that landmark.",
        )


def too_near(points: Floats, landmarks: Mapping[str, Floats]) -> TooNearTo | None:
    """The first landmark that a line (n, 3) crosses or passes too near to; None where it is clear of all."""
    for name, point in landmarks.items():
        least = line_distance_mm(name)
        if least is None:
            continue
        away = np.linalg.norm(points - point, axis=1)
        worst = int(np.argmin(away))
        if away[worst] < least:
            return TooNearTo(name, float(away[worst]), least, worst)
    return None

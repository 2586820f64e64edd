"""How far the body stands off the skin: one distance or a smooth field of them; and the skin moved by it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..mesh import Floats, TriMesh
from ..solids.distance import MeshDistance
from .chart import RadialChart

_ROUNDS = 5  # each at least halves the error; two reach 0.01 mm on smooth skin
_NEAR_MM = 0.2  # at less than this a first guess may lie on the other side of the skin
_LEAST_SLANT = 0.3  # a step along the ray is at most this much longer than the distance it should make up


@dataclass(frozen=True, eq=False)
class StandOff:
    """Distance that the contact surface keeps from the skin, mm; negative lies below it.

    Attributes
    ----------
    base_mm : everywhere.
    shaped_mm : (h, w) added to it over the chart's pixels; None for an even stand-off.
    """

    base_mm: float = 0.0
    shaped_mm: Floats | None = None

    @property
    def is_even(self) -> bool:
        """Whether it is the same everywhere."""
        return self.shaped_mm is None

    @property
    def least_mm(self) -> float:
        """Smallest distance anywhere."""
        return self.base_mm + (0.0 if self.shaped_mm is None else float(self.shaped_mm.min()))

    def at(self, chart: RadialChart, pq: Floats) -> Floats:
        """Distances (...) in mm at chart positions (..., 2) in radians, bilinear between pixels."""
        if self.shaped_mm is None:
            return np.full(pq.shape[:-1], self.base_mm)
        pixel = chart.pixels_of(pq)
        flat = ndimage.map_coordinates(self.shaped_mm, pixel.reshape(-1, 2).T, order=1, mode="nearest")
        return np.asarray(self.base_mm + flat.reshape(pixel.shape[:-1]))

    def at_points(self, chart: RadialChart, points: Floats) -> Floats:
        """Distances (...) in mm at points (..., 3) in the face frame, along their rays."""
        return self.at(chart, chart.place_of(points)[0])


def at_distance(start: Floats, centre: Floats, skin: TriMesh, distance_mm: float | Floats) -> Floats:
    """Points moved along their rays to a distance from the skin.

    Parameters
    ----------
    start : (n, 3) first guess, mm.
    centre : (3,) where the rays begin.
    skin : the sheet that distances are measured to.
    distance_mm : one number or (n,); positive outside, negative inside.

    Returns
    -------
    (n, 3) mm. Newton's rule along the ray: the slope of the signed distance is the cosine between the ray and
    the way from the nearest skin.
    """
    search = MeshDistance(skin)
    wanted = np.broadcast_to(np.asarray(distance_mm, dtype=np.float64), len(start))
    side, near = np.sign(wanted), np.abs(wanted) < _NEAR_MM
    ray = start - centre
    radius = np.linalg.norm(ray, axis=1)
    ray = ray / radius[:, None]
    for _ in range(_ROUNDS):
        points = centre + ray * radius[:, None]
        distance, _, nearest = search.closest(points)
        away = (points - nearest) / np.maximum(distance, 1e-9)[:, None]
        rising = (away * ray).sum(axis=1)
        here = np.where(near, np.sign(rising), side)  # outside or inside, as far as that can be doubted
        slope = np.maximum(here * rising, _LEAST_SLANT)
        radius = radius - (here * distance - wanted) / slope
    return np.asarray(centre + ray * radius[:, None])

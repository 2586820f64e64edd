"""The radial chart: every direction from a point inside the head is one place on the chart.

An azimuthal equidistant map of the directions round a front axis. The skin of the mask region is a single
sheet when seen from inside the head, so it becomes an image of radii: holes, doubled layers, flipped
triangles and islands of a scan lose their power to break later steps, and cost no longer depends on the
number of triangles in the scan.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..mesh import Floats


@dataclass(frozen=True, eq=False)
class RadialChart:
    """An azimuthal equidistant chart of directions.

    Attributes
    ----------
    centre : (3,) mm in the face frame, a point inside the head.
    tilt_rad : how far the front axis points below -Y.
    pitch_rad : angle between neighbouring pixels.
    half : pixels from the middle to the border; the image has 2 * half + 1 rows and columns.

    The axes do not depend on the scan's triangles, and the image is symmetric about X = 0.
    """

    centre: Floats
    tilt_rad: float
    pitch_rad: float
    half: int

    @cached_property
    def axes(self) -> Floats:
        """Rows: right (+X), up, front; (3, 3) orthonormal."""
        c, s = np.cos(self.tilt_rad), np.sin(self.tilt_rad)
        return np.array([[1.0, 0.0, 0.0], [0.0, -s, c], [0.0, -c, -s]])

    @property
    def side(self) -> int:
        """Pixels along one side of the image."""
        return 2 * self.half + 1

    @cached_property
    def directions(self) -> Floats:
        """Unit directions of all pixels (side, side, 3), rows upwards, columns to the wearer's left."""
        line = (np.arange(self.side) - self.half) * self.pitch_rad
        p, q = np.meshgrid(line, line)
        return self.direction_at(np.stack([p, q], axis=-1))

    def direction_at(self, pq: Floats) -> Floats:
        """Unit directions (..., 3) in the face frame for chart positions (..., 2) in radians."""
        p, q = pq[..., 0], pq[..., 1]
        angle = np.sqrt(p * p + q * q)
        across = np.sin(angle) / np.where(angle > 0.0, angle, 1.0)
        across = np.where(angle > 0.0, across, 1.0)
        local = np.stack([p * across, q * across, np.cos(angle)])
        return np.asarray(np.einsum("i...,ij->...j", local, self.axes))

    def place_of(self, points: Floats) -> tuple[Floats, Floats]:
        """Chart positions (..., 2) in radians and radii (...) in mm of points (..., 3) in the face frame."""
        local = np.einsum(
            "ij,...j->i...", self.axes, points - self.centre
        )  # three long rows: fast to work on
        across = local[0] ** 2 + local[1] ** 2
        sideways, radius = np.sqrt(across), np.sqrt(across + local[2] ** 2)
        ratio = np.arctan2(sideways, local[2]) / np.maximum(sideways, 1e-12)
        return np.stack([local[0] * ratio, local[1] * ratio], axis=-1), radius

    def pixels_of(self, pq: Floats) -> Floats:
        """Fractional (row, column) pixel positions (..., 2) of chart positions (..., 2) in radians."""
        return pq[..., ::-1] / self.pitch_rad + self.half

"""A coarse generic face: the height field against which a scan is turned the right way round.

The table is our own: heights of four heads drawn from an open head model (ICT FaceKit, (c) 2020 USC
Institute for Creative Technologies, MIT), averaged, made symmetric, smoothed, levelled out at the open eyes,
sampled every 6 mm and rounded to whole millimetres. It serves only to find a face and to say roughly where
its parts are; no mask is ever fitted to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.interpolate import RectBivariateSpline

from ...mesh import Floats

STEP_MM = 6.0
HALF_WIDTH_MM = 60.0
LOW_MM, HIGH_MM = -60.0, 66.0

# Rows from z = +66 mm down to -60 mm; columns from the midline x = 0 out to 60 mm; mm in front of subnasale.
_ROWS = """
 -9  -9  -9 -10 -12 -14 -16 -19 -23 -30 -42
 -9  -9 -10 -12 -14 -15 -17 -19 -23 -29 -41
-10 -11 -14 -17 -19 -20 -20 -21 -25 -30 -40
 -9 -11 -17 -22 -25 -26 -25 -25 -27 -32 -41
 -6  -9 -17 -21 -23 -24 -24 -25 -28 -33 -41
 -1  -5 -14 -19 -20 -21 -22 -24 -28 -33 -39
  4   0  -9 -16 -18 -19 -20 -22 -26 -30 -37
  9   6  -5 -13 -16 -18 -19 -21 -24 -28 -35
 13  11   1 -11 -14 -16 -17 -19 -22 -27 -34
 15  13   6  -7 -13 -14 -16 -18 -22 -27 -35
 11   3  -3  -9 -13 -14 -15 -18 -22 -27 -36
  1  -1  -5 -10 -12 -14 -15 -18 -22 -28 -37
  0   0  -3  -7 -11 -13 -16 -19 -24 -30 -39
  2   2  -1  -5  -9 -13 -16 -20 -25 -32 -41
  1   0  -3  -6 -10 -13 -16 -21 -26 -34 -44
  1   0  -2  -7 -12 -14 -17 -22 -28 -36 -49
  0  -1  -3  -6 -11 -15 -18 -23 -30 -38 -60
 -3  -4  -5  -8 -11 -15 -19 -25 -32 -43 -70
 -2  -3  -5  -8 -11 -16 -21 -28 -37 -59 -75
 -1  -2  -4  -7 -12 -17 -24 -32 -50 -70 -80
 -1  -2  -4  -7 -13 -20 -30 -48 -65 -75 -80
 -4  -5  -7 -11 -19 -33 -52 -65 -75 -80 -80
"""

PRONASALE = (0.0, 14.7, 16.0)
"""Nose tip of the generic face: x, height, z in mm."""


@dataclass(frozen=True, eq=False)
class GenericFace:
    """The spline through the table and a quick raster of it.

    Attributes
    ----------
    spline : height (mm in front of subnasale) over (z, x) in mm.
    raster : heights every millimetre, rows over z from ``LOW_MM``, columns over x from ``-HALF_WIDTH_MM``.
    """

    spline: RectBivariateSpline
    raster: Floats

    def height(self, x: Floats, z: Floats) -> tuple[Floats, Floats, Floats]:
        """Height and its two slopes d/dx, d/dz at points (n,) within the table, mm."""
        value = self.spline.ev(z, x)
        return value, self.spline.ev(z, x, dy=1), self.spline.ev(z, x, dx=1)

    def quick_height(self, x: Floats, z: Floats) -> Floats:
        """Height from the millimetre raster; any shape; NaN outside."""
        row = np.rint(z - LOW_MM).astype(np.int64)
        column = np.rint(x + HALF_WIDTH_MM).astype(np.int64)
        inside = (row >= 0) & (row < self.raster.shape[0]) & (column >= 0) & (column < self.raster.shape[1])
        value = self.raster[np.where(inside, row, 0), np.where(inside, column, 0)]
        return np.where(inside, value, np.nan)


@cache
def generic_face() -> GenericFace:
    """The generic face, built once."""
    right = np.array([[float(c) for c in line.split()] for line in _ROWS.strip().splitlines()])[::-1]
    both = np.hstack([right[:, :0:-1], right])
    x = np.arange(-HALF_WIDTH_MM, HALF_WIDTH_MM + 1, STEP_MM)
    z = np.arange(LOW_MM, HIGH_MM + 1, STEP_MM)
    spline = RectBivariateSpline(z, x, both)
    fine_z = np.arange(LOW_MM, HIGH_MM + 0.5)
    fine_x = np.arange(-HALF_WIDTH_MM, HALF_WIDTH_MM + 0.5)
    return GenericFace(spline, spline(fine_z, fine_x))


def edge_weight(x: Floats, z: Floats) -> Floats:
    """Weight of a place on the generic face: 1 inside, falling smoothly to 0 at the border of the table."""
    # The steep cheek beyond 54 mm and the under-chin below -58 mm say little about the pose.
    side = np.clip((56.0 - np.abs(x)) / 10.0, 0.0, 1.0)
    top = np.clip((HIGH_MM - 2.0 - z) / 10.0, 0.0, 1.0)
    bottom = np.clip((z - LOW_MM - 2.0) / 10.0, 0.0, 1.0)
    product: Floats = side * top * bottom
    return product * product * (3.0 - 2.0 * product)

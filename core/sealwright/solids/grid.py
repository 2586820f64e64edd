"""Points snapped to a fine grid, on which the shape of a triangle is decided in whole numbers.

The grid step is a power of two (for a part up to 256 mm: 2.4e-7 mm, finer than the float32 numbers of an STL
file), so that coordinates are whole numbers below 2^30 and need no tolerance anywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats

Whole = NDArray[np.int64]

_BITS = 30  # differences below 2^30 keep 2x2 minors below 2^61, inside a 64-bit word


def snap_to_grid(points: Floats) -> tuple[Floats, float]:
    """Points (n, 3) as whole numbers from 0 to 2^30, and the grid step in the unit of the points."""
    low = points.min(axis=0)
    span = max(float(np.ptp(points, axis=0).max()), np.finfo(np.float64).tiny)
    step = 2.0 ** (np.ceil(np.log2(span)) - _BITS)
    return np.rint((points - low) / step), float(step)


def is_degenerate(a: Floats, b: Floats, c: Floats) -> Bools:
    """Which triangles (k, 3 corners) of the grid are exactly a line or a point."""
    u, v = (b - a).astype(np.int64), (c - a).astype(np.int64)
    flat = np.ones(len(a), dtype=np.bool_)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        flat &= u[:, i] * v[:, j] == u[:, j] * v[:, i]
    return flat

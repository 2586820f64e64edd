"""Exact orientation signs for points on a fine lattice.

Points are rounded to a lattice of a power of two (for a part up to 256 mm: 2.4e-7 mm, finer than the
float32 numbers of an STL file), so that coordinates are whole numbers below 2^30. Orientations are then
evaluated in float64 where the rounding error cannot change the sign, and in 64-bit whole numbers,
carried in two words, where it could. No tolerance is needed anywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

Signs = NDArray[np.int8]
Whole = NDArray[np.int64]

_BITS = 30  # differences below 2^30 keep 2x2 minors below 2^61, inside a 64-bit word


def on_lattice(points: Floats) -> tuple[Floats, float]:
    """Points (n, 3) as whole numbers from 0 to 2^30, and the lattice step in the unit of the points."""
    low = points.min(axis=0)
    span = max(float(np.ptp(points, axis=0).max()), np.finfo(np.float64).tiny)
    step = 2.0 ** (np.ceil(np.log2(span)) - _BITS)
    return np.rint((points - low) / step), float(step)


def side_of_plane(a: Floats, b: Floats, c: Floats, p: Floats) -> Signs:
    """Side of points against planes: +1 where p is on the side that the normal of (a, b, c) points to.

    Parameters
    ----------
    a, b, c, p : (k, 3) lattice points.

    Returns
    -------
    (k,) -1, 0 or 1, exact.
    """
    u, v, w = b - a, c - a, p - a
    normal = np.stack([_minor(u, v, 1, 2), _minor(u, v, 2, 0), _minor(u, v, 0, 1)], axis=1)
    value = np.einsum("ij,ij->i", normal, w)
    # Forward error of the sum above: 10 roundings at most, each of a magnitude below 6 |u| |v| |w|.
    scale = _largest(u) * _largest(v) * _largest(w)
    sign: Signs = np.sign(value).astype(np.int8)
    unsure = np.flatnonzero(np.abs(value) <= 64.0 * np.finfo(np.float64).eps * scale)
    sign[unsure] = _exact_sign(u[unsure], v[unsure], w[unsure])
    return sign


def turn(a: Floats, b: Floats, c: Floats) -> Signs:
    """Turn of three points in the plane: +1 where (a, b, c) runs counter-clockwise.

    Parameters
    ----------
    a, b, c : (k, 2) lattice points.

    Returns
    -------
    (k,) -1, 0 or 1, exact.
    """
    u, v = (b - a).astype(np.int64), (c - a).astype(np.int64)
    return np.sign(_minor_whole(u, v, 0, 1)).astype(np.int8)


def flat_axes(a: Floats, b: Floats, c: Floats) -> Whole:
    """For each triangle (k, 3 corners) the two axes (k, 2) of the coordinate plane it covers best.

    The triangle has area in that plane whenever it has area at all; its turn there is exact.
    """
    u, v = (b - a).astype(np.int64), (c - a).astype(np.int64)
    minors = np.stack([np.abs(_minor_whole(u, v, *axes)) for axes in ((1, 2), (2, 0), (0, 1))], axis=1)
    axes: Whole = np.array([[1, 2], [2, 0], [0, 1]], dtype=np.int64)
    best: Whole = axes[minors.argmax(axis=1)]
    return best


def has_no_area(a: Floats, b: Floats, c: Floats) -> NDArray[np.bool_]:
    """Which lattice triangles (k, 3 corners) are exactly a line or a point."""
    u, v = (b - a).astype(np.int64), (c - a).astype(np.int64)
    flat = np.ones(len(a), dtype=np.bool_)
    for axes in ((1, 2), (2, 0), (0, 1)):
        flat &= _minor_whole(u, v, *axes) == 0
    return flat


def _largest(u: Floats) -> Floats:
    """Largest coordinate without sign (column by column: much faster than a maximum along rows)."""
    size = np.abs(u)
    return np.maximum(np.maximum(size[:, 0], size[:, 1]), size[:, 2])


def _minor(u: Floats, v: Floats, i: int, j: int) -> Floats:
    return u[:, i] * v[:, j] - u[:, j] * v[:, i]


def _minor_whole(u: Whole, v: Whole, i: int, j: int) -> Whole:
    return u[:, i] * v[:, j] - u[:, j] * v[:, i]


def _exact_sign(u: Floats, v: Floats, w: Floats) -> Signs:
    """Sign of det(u, v, w) in whole numbers: minors are cut into 31-bit words before the last product."""
    m, n, d = u.astype(np.int64), v.astype(np.int64), w.astype(np.int64)
    upper = np.zeros(len(m), dtype=np.int64)
    lower = np.zeros(len(m), dtype=np.int64)
    for axis, axes in enumerate(((1, 2), (2, 0), (0, 1))):
        minor = _minor_whole(m, n, *axes)
        upper += (minor >> 31) * d[:, axis]
        lower += (minor & (2**31 - 1)) * d[:, axis]
    upper += lower >> 31
    rest = lower & (2**31 - 1)
    return np.where(upper == 0, np.sign(rest), np.sign(upper)).astype(np.int8)

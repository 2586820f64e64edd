"""Closed curves: periodic splines, even spacing, smoothing along the curve."""

from __future__ import annotations

import numpy as np
from scipy import ndimage
from scipy.interpolate import CubicSpline

from ..mesh import Bools, Floats


def closed_spline(control: Floats, count: int) -> Floats:
    """Points (count, d) on the periodic cubic spline through control points (k, d) by chord length."""
    ring = np.vstack([control, control[:1]])
    chord = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    spline = CubicSpline(chord, ring, bc_type="periodic")
    return np.asarray(spline(np.linspace(0.0, chord[-1], count, endpoint=False)))


def arc_lengths(points: Floats) -> Floats:
    """Arc length (n + 1,) in mm at the points (n, 3) of a closed polygon, ending with its whole length."""
    steps = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def resampled(values: Floats, arc: Floats, count: int, start: float = 0.0) -> Floats:
    """Values (n, d) on a closed polygon taken at ``count`` even arc lengths, beginning at ``start``.

    Parameters
    ----------
    values : (n, d) at the polygon's points.
    arc : (n + 1,) arc lengths, see `arc_lengths`.
    """
    length = arc[-1]
    wanted = np.mod(start + np.arange(count) * (length / count), length)
    ring = np.vstack([values, values[:1]])
    return np.stack([np.interp(wanted, arc, ring[:, axis]) for axis in range(ring.shape[1])], axis=1)


_LEAST_SIGMA = 0.1  # stations; below it the next station weighs under exp(-50), and its square may underflow


def smoothed_round(values: Floats, sigma_stations: float) -> Floats:
    """Values (n, ...) smoothed along a closed curve by a Gaussian of ``sigma_stations``."""
    if sigma_stations < _LEAST_SIGMA:
        return values
    return np.asarray(ndimage.gaussian_filter1d(values, sigma_stations, axis=0, mode="wrap"))


def tangents_round(points: Floats) -> Floats:
    """Unit tangents (n, d) of a closed polygon (n, d) by central differences."""
    step = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    return np.asarray(step / np.linalg.norm(step, axis=1, keepdims=True))


def crossings(curve: Floats) -> Bools:
    """Which segments (n,) of a closed plane polygon (n, 2) cross another segment of it."""
    a, b = curve, np.roll(curve, -1, axis=0)
    count = len(curve)
    side_a = _side(a[:, None], b[:, None], a[None, :])
    side_b = _side(a[:, None], b[:, None], b[None, :])
    apart = side_a * side_b < 0
    both = apart & apart.T
    gap = np.abs(np.arange(count)[:, None] - np.arange(count)[None, :])
    both[(gap <= 1) | (gap == count - 1)] = False
    return np.asarray(both.any(axis=1))


def meetings(first: Floats, second: Floats) -> Bools:
    """Which segments (n,) of a closed plane polygon (n, 2) cross a segment of another (m, 2)."""
    a, b = first[:, None], np.roll(first, -1, axis=0)[:, None]
    c, d = second[None], np.roll(second, -1, axis=0)[None]
    both = (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)
    return np.asarray(both.any(axis=1))


def _side(a: Floats, b: Floats, p: Floats) -> Floats:
    """Twice the signed area of triangles (a, b, p)."""
    u, v = b - a, p - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])

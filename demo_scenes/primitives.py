"""Distance-like fields to sculpt with: ellipsoids, limbs, ribbons, and smooth ways to join and carve.

Every field takes points (n, 3) in mm and gives (n,) numbers in mm: negative inside, near the true distance
close to the surface. They are exact enough to march along a ray, no more is claimed.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline
from sealwright.mesh import Floats


@lru_cache(maxsize=64)
def _curve(knots: tuple[tuple[float, ...], ...]) -> CubicSpline:
    """Spline over the first column; flat at a first knot of zero (the middle of the face), free elsewhere."""
    table = np.array(knots, dtype=float)
    free = (2, np.zeros(table.shape[1] - 1))
    first = (1, free[1]) if table[0, 0] == 0.0 else free
    return CubicSpline(table[:, 0], table[:, 1:], bc_type=(first, free))


def ellipsoid(
    p: Floats, centre: Sequence[float], radii: Sequence[float], turn: Floats | None = None
) -> Floats:
    """Field of an ellipsoid: first-order distance f / |grad f|.

    Parameters
    ----------
    p : (n, 3) points, mm.
    centre, radii : (3,) mm.
    turn : (3, 3) rotation whose columns are the ellipsoid's axes; None for the frame's own.
    """
    local = p - np.asarray(centre, dtype=float)
    if turn is not None:
        local = local @ turn
    scaled = local / np.asarray(radii, dtype=float)
    size = np.sqrt(np.einsum("ij,ij->i", scaled, scaled)) + 1e-12
    steep = scaled / np.asarray(radii, dtype=float)
    value: Floats = size * (size - 1.0) / (np.sqrt(np.einsum("ij,ij->i", steep, steep)) + 1e-12)
    return value


def limb(p: Floats, start: Sequence[float], end: Sequence[float], radius: float, end_radius: float) -> Floats:
    """Field of a rod with round ends whose radius runs linearly from start to end."""
    a = np.asarray(start, dtype=float)
    axis = np.asarray(end, dtype=float) - a
    local = p - a
    along = np.clip(local @ axis / (axis @ axis), 0.0, 1.0)
    rest = local - along[:, None] * axis
    value: Floats = np.sqrt(np.einsum("ij,ij->i", rest, rest)) - (radius + (end_radius - radius) * along)
    return value


def ribbon(p: Floats, knots: Sequence[tuple[float, float, float, float]]) -> Floats:
    """Field of a rod along a smooth curve over x, for lips, brows and lids.

    Parameters
    ----------
    p : (n, 3) points, mm; x is taken as it is (fold it first for a mirrored pair).
    knots : (x, y, z, radius) in mm with rising x; a first x of zero makes an even curve there.
    """
    x = np.clip(p[:, 0], knots[0][0], knots[-1][0])
    y, z, radius = _curve(tuple(knots))(x).T
    value: Floats = np.sqrt((p[:, 0] - x) ** 2 + (p[:, 1] - y) ** 2 + (p[:, 2] - z) ** 2) - radius
    return value


def join(a: Floats, b: Floats, blend: float) -> Floats:
    """Smooth union (cubic, so that curvature is continuous); ``blend`` is the width of the fillet, mm."""
    h = np.maximum(blend - np.abs(a - b), 0.0) / blend
    return np.minimum(a, b) - h * h * h * blend / 6.0


def carve(a: Floats, b: Floats, blend: float) -> Floats:
    """``a`` without ``b``, with a fillet of width ``blend`` mm."""
    return -join(-a, b, blend)


def bump(p: Floats, centre: Sequence[float], spread: Sequence[float], height: float) -> Floats:
    """A Gaussian swelling (n,) of ``height`` mm to subtract from a field; negative heights dent."""
    scaled = (p - np.asarray(centre, dtype=float)) / np.asarray(spread, dtype=float)
    value: Floats = height * np.exp(-0.5 * np.einsum("ij,ij->i", scaled, scaled))
    return value


def crease(p: Floats, knots: Sequence[tuple[float, float, float]], width: float, over: int = 0) -> Floats:
    """A groove (n,) in mm to add to a field, running over the front of the face along a curve.

    Parameters
    ----------
    p : (n, 3) points, mm.
    knots : (t, s, depth) in mm with rising t: the curve s(t) in front view and how deep the groove is
        there. It fades out over the last fifth of t at each end, but not at t = 0, the middle of the face.
    width : standard deviation of the groove's section, mm.
    over : 0 when t is x and s is z, 2 when t is z and s is x.
    """
    first, last = knots[0][0], knots[-1][0]
    t = np.clip(p[:, over], first, last)
    middle, depth = _curve(tuple(knots))(t).T
    away = np.hypot(p[:, 2 - over] - middle, p[:, over] - t) / width
    fade = smooth_step((last - t) / (0.2 * (last - first)))
    if first != 0.0:
        fade = fade * smooth_step((t - first) / (0.2 * (last - first)))
    front = 1.0 / (1.0 + np.exp((p[:, 1] - 60.0) / 5.0))
    value: Floats = depth * fade * np.exp(-0.5 * away * away) * front
    return value


def smooth_step(t: Floats) -> Floats:
    """0 up to t = 0, 1 from t = 1, with flat ends and continuous curvature."""
    t = np.clip(t, 0.0, 1.0)
    return t * t * t * (t * (6.0 * t - 15.0) + 10.0)


def fold(p: Floats, soft: float = 1.5) -> Floats:
    """The points with x replaced by its smooth absolute value, so that one sculpted side serves both."""
    return np.column_stack([np.sqrt(p[:, 0] ** 2 + soft**2) - soft, p[:, 1], p[:, 2]])


def turned(pitch_deg: float = 0.0, yaw_deg: float = 0.0, roll_deg: float = 0.0) -> Floats:
    """Rotation (3, 3): roll about y, then pitch about x, then yaw about z."""
    a, b, c = np.radians([pitch_deg, yaw_deg, roll_deg])
    pitch = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    yaw = np.array([[np.cos(b), -np.sin(b), 0], [np.sin(b), np.cos(b), 0], [0, 0, 1]])
    roll = np.array([[np.cos(c), 0, np.sin(c)], [0, 1, 0], [-np.sin(c), 0, np.cos(c)]])
    turn: Floats = yaw @ pitch @ roll
    return turn

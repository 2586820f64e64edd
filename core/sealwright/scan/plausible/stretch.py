"""Whether a face is stretched along one axis: the generic face laid on its relief with three sizes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...mesh import Floats
from ..landmarks.depth_map import DepthMap
from ..pose.generic_face import HALF_WIDTH_MM, HIGH_MM, LOW_MM, edge_weight, generic_face

ROUNDS = 25
_MOST_CELLS = 4_000
_HUBER_MM = 4.0
_USUAL = 0.25
"""Weak pull of the three sizes to 1, as natural logarithms: keeps a bare relief from running away."""


@dataclass(frozen=True)
class Stretch:
    """Sizes of a face along its axes over those of the generic face.

    Attributes
    ----------
    across, deep, upright : along X, Y and Z of the face frame.
    misfit_mm : what is left, root mean square.
    """

    across: float
    deep: float
    upright: float
    misfit_mm: float


def stretch_of(depth: DepthMap, size: float) -> Stretch:
    """Lay the generic face on the relief with one size for each axis (Gauss-Newton, Huber weights).

    Unknowns: logarithms of the three sizes, a shift up and out, and a nod; left and right are even.

    Parameters
    ----------
    depth : the face from the front.
    size : from the pose, where the iteration starts.
    """
    x, z, h = _cells(depth, size)
    unknown = np.array([np.log(size)] * 3 + [0.0, 0.0, 0.0])
    misfit = np.full(len(x), np.inf)
    for _ in range(ROUNDS):
        misfit, slopes, inside = _residual(unknown, x, z, h)
        weight = inside / np.maximum(1.0, np.abs(misfit) / _HUBER_MM)
        left = slopes.T @ (weight[:, None] * slopes)
        right = slopes.T @ (weight * misfit)
        pull = np.diag([1.0, 1.0, 1.0, 0.0, 0.0, 0.0]) * len(x) * 0.02 / _USUAL**2
        offset = np.zeros(6)
        offset[:3] = unknown[:3] - np.log(size)
        step = np.linalg.solve(left + pull + 1e-9 * np.eye(6), right - pull @ offset)
        unknown = unknown + np.clip(step, -0.15, 0.15) * np.array([1, 1, 1, 20, 20, 1])
    sizes = np.exp(unknown[:3])
    rms = float(np.sqrt(np.average(misfit**2, weights=np.maximum(inside, 1e-9))))
    return Stretch(float(sizes[0]), float(sizes[1]), float(sizes[2]), rms)


def _cells(depth: DepthMap, size: float) -> tuple[Floats, Floats, Floats]:
    """Cells with skin on the generic face's field: places and heights (n,)."""
    x, z = np.meshgrid(depth.x, depth.z)
    height = depth.smoothed(2.0)
    use = ~np.isnan(height) & (np.abs(x) < HALF_WIDTH_MM * size) & (z > LOW_MM * size) & (z < HIGH_MM * size)
    rows = np.flatnonzero(use.ravel())
    rows = rows[:: max(1, len(rows) // _MOST_CELLS)]
    return x.ravel()[rows], z.ravel()[rows], height.ravel()[rows]


def _residual(unknown: Floats, x: Floats, z: Floats, h: Floats) -> tuple[Floats, Floats, Floats]:
    """Misfit (n,), its slopes (n, 6) by the unknowns, and the weight of each cell (n,)."""
    across, deep, upright = np.exp(unknown[:3])
    up, out, nod = unknown[3:]
    u, v = x / across, (z - up) / upright
    value, by_u, by_v = generic_face().height(u, v)
    model = deep * value + out + nod * (z - up)
    slopes = np.stack(
        [
            -deep * by_u * u,
            deep * value,
            -deep * by_v * v,
            -deep * by_v / upright - nod,
            np.ones_like(x),
            z - up,
        ],
        axis=1,
    )
    return h - model, slopes, edge_weight(u, v)

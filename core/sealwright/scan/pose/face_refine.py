"""Sharpen a first guess: least squares between the scan and the generic face over pose and size."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from ...mesh import Floats
from .face_fit import FaceFit, Start, likeness_of
from .generic_face import PRONASALE, STEP_MM, edge_weight, generic_face

SIZE_SPREAD = 0.10
"""Spread of face size about the generic one that counts as usual, as a natural logarithm."""

SIZE_LIMIT = 0.35
"""Largest difference of size, as a natural logarithm: a small child to a very large adult."""


def refine(points: Floats, start: Start, rounds: int = 20) -> FaceFit:
    """Move, turn and size the generic face until it lies on the skin.

    Parameters
    ----------
    points : (n, 3) skin near the nose on the outer side, mm, scan frame.
    start : first guess.
    rounds : Gauss-Newton steps; the robust limit shrinks from 15 to 5 mm over the first half.
    """
    rotation, shift, log_size = start.rotation, start.shift_mm, float(np.log(start.size))
    for step in range(rounds):
        limit = max(5.0, 15.0 * 0.87**step)
        turn, move, grow = _step(points @ rotation.T + shift, log_size, limit)
        rotated = rotation_of(turn)
        rotation, shift = rotated @ rotation, rotated @ shift + move
        log_size = float(np.clip(log_size + grow, -SIZE_LIMIT, SIZE_LIMIT))
    return _judge(points, rotation, shift, log_size)


def _step(q: Floats, log_size: float, limit: float) -> tuple[Floats, Floats, float]:
    """One damped Gauss-Newton step from face points (n, 3): turn vector, move, growth of log size."""
    size = float(np.exp(log_size))
    x, z, h = q[:, 0] / size, q[:, 2] / size, -q[:, 1]
    weight = edge_weight(x, z)
    on = weight > 0
    x, z, h, q, weight = x[on], z[on], h[on], q[on], weight[on]
    if len(q) < 30:
        return np.zeros(3), np.zeros(3), 0.0
    height, slope_x, slope_z = generic_face().height(x, z)
    steep = np.sqrt(1.0 + slope_x**2 + slope_z**2)
    residual = (h - size * height) / steep
    gradient = np.stack([-slope_x, -np.ones_like(x), -slope_z], axis=1) / steep[:, None]
    growth = -size * (height - x * slope_x - z * slope_z) / steep
    jacobian = np.hstack([np.cross(q, gradient), gradient, growth[:, None]])
    weight = weight * steep / (1.0 + (residual / limit) ** 2) ** 2
    left = jacobian.T @ (weight[:, None] * jacobian)
    right = -jacobian.T @ (weight * residual)
    # The size keeps near the usual one where the skin says little: as if by 2 mm of noise.
    pull = weight.sum() * 0.02 * (2.0 / SIZE_SPREAD) ** 2
    left[6, 6] += pull
    right[6] -= pull * log_size
    left += np.diag(np.diag(left)) * 1e-3 + 1e-9 * np.eye(7)
    step: Floats = np.asarray(np.linalg.solve(left, right), dtype=np.float64)
    turn: Floats = step[:3]
    move: Floats = step[3:6]
    length = float(np.linalg.norm(turn))
    if length > 0.25:
        turn = turn * (0.25 / length)
    return turn, np.asarray(np.clip(move, -10.0, 10.0)), float(np.clip(step[6], -0.1, 0.1))


def rotation_of(rotation_vector: Floats) -> Floats:
    """Rotation matrix (3, 3) of a rotation vector (3,) in radians."""
    return np.asarray(Rotation.from_rotvec(rotation_vector).as_matrix())


def _judge(points: Floats, rotation: Floats, shift: Floats, log_size: float) -> FaceFit:
    """Measure how well the generic face lies on the skin."""
    size = float(np.exp(log_size))
    q = (points @ rotation.T + shift) / size
    x, z, h = q[:, 0], q[:, 2], -q[:, 1]
    relative = x[None] - PRONASALE[0], z[None] - PRONASALE[2]
    likeness = float(likeness_of(*relative, h - PRONASALE[1])[0][0])
    weight = edge_weight(x, z)
    on = weight > 0.05
    if on.sum() < 30:
        return FaceFit(rotation, shift, size, 0.0, 99.0, 0.0)
    height, slope_x, slope_z = generic_face().height(x[on], z[on])
    miss = size * (h[on] - height) / np.sqrt(1.0 + slope_x**2 + slope_z**2)
    close = np.abs(miss) < 12.0
    misfit = float(np.sqrt(np.mean(np.minimum(np.abs(miss), 20.0) ** 2)))
    return FaceFit(rotation, shift, size, likeness, misfit, _coverage(x[on][close], z[on][close]))


def _coverage(x: Floats, z: Floats) -> float:
    """Share of the cells of the generic face, |x| < 42 and -36 < z < 54 mm, that hold skin."""
    column = np.floor((x + 42.0) / (2 * STEP_MM) + 1e-9).astype(np.int64)
    row = np.floor((z + 36.0) / (2 * STEP_MM) + 1e-9).astype(np.int64)
    inside = (column >= 0) & (column < 7) & (row >= 0) & (row < 7)
    return float(len(np.unique(row[inside] * 7 + column[inside])) / 49.0)

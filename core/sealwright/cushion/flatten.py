"""A strip of surface laid flat with as little stretch as it allows.

First it is rolled out along its middle by the geodesic curvature; then every triangle is turned back to its
own shape as rigidly as its neighbours let it: as-rigid-as-possible parametrisation, Liu, Zhang, Xu, Gotsman,
Gortler, "A local/global approach to mesh parameterization" (2008).
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from ..mesh import Floats
from .band_face import grid_triangles

_ROUNDS = 60  # the largest stretch of a face's band moves by less than 1e-4 after about 40


def flattened(grid: Floats, across_mm: Floats, normals: Floats) -> Floats:
    """An open strip (m, k, 3) in the plane (m, k, 2), mm.

    Parameters
    ----------
    grid : the strip, outer edge first.
    across_mm : (k,) distance of its rows from its seal line, positive outside.
    normals : (m, k, 3) unit normals, away from the skin.

    Returns
    -------
    Places as seen from the side the normals point away from (the skin).
    """
    start = _rolled_out(grid, across_mm, normals)
    triangles = grid_triangles(*grid.shape[:2])
    flat = _as_rigid_as_possible(grid.reshape(-1, 3), start.reshape(-1, 2), triangles)
    return flat.reshape(*grid.shape[:2], 2)


def edge_stretch(grid: Floats, flat: Floats) -> Floats:
    """Length in the plane over length in space of the grid's edges and diagonals, all in one row."""
    ratios = []
    for step in ((1, 0), (0, 1), (1, 1)):
        i, j = step
        here, there = np.s_[: grid.shape[0] - i, : grid.shape[1] - j], np.s_[i:, j:]
        space = np.linalg.norm(grid[there] - grid[here], axis=-1)
        plane = np.linalg.norm(flat[there] - flat[here], axis=-1)
        ratios.append((plane / space).ravel())
    return np.concatenate(ratios)


def _rolled_out(grid: Floats, across_mm: Floats, normals: Floats) -> Floats:
    """The strip with its middle row rolled out and straight cross lines."""
    middle = int(np.argmin(np.abs(across_mm - 0.5 * (across_mm[0] + across_mm[-1]))))
    line, normal = grid[:, middle], normals[:, middle]
    step = np.diff(line, axis=0)
    length = np.linalg.norm(step, axis=1)
    turn = np.zeros(len(step))
    for i in range(1, len(step)):
        n = normal[i]
        before, after = step[i - 1] - (step[i - 1] @ n) * n, step[i] - (step[i] @ n) * n
        # Seen from the skin, where the normal points away from the eye, turns change their sense.
        turn[i] = -np.arctan2(np.cross(before, after) @ n, before @ after)
    heading = np.cumsum(turn)
    ends = np.cumsum(length[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=1), axis=0)
    places = np.concatenate([np.zeros((1, 2)), ends])
    at = np.concatenate([heading[:1], 0.5 * (heading[1:] + heading[:-1]), heading[-1:]])
    side = _outward_side(grid, normals, middle) * np.stack([-np.sin(at), np.cos(at)], axis=1)
    away = (across_mm - across_mm[middle])[None, :, None]
    return np.asarray(places[:, None] + away * side[:, None])


def _outward_side(grid: Floats, normals: Floats, middle: int) -> float:
    """Whether the outer edge lies to the left (1) or right (-1) of the way along, seen from the skin."""
    along = np.gradient(grid[:, middle], axis=0)
    out = grid[:, 0] - grid[:, -1]
    return float(np.sign((np.cross(along, out) * -normals[:, middle]).sum()))


def _as_rigid_as_possible(points: Floats, start: Floats, triangles: np.ndarray) -> Floats:
    """Local/global iteration from a start (n, 2) in the plane."""
    rest = _own_planes(points, triangles)
    if _signed_area(start, triangles) < 0.0:
        rest = rest * (1.0, -1.0)
    edge = np.roll(rest, -1, axis=1) - rest  # (m, 3, 2), corner to next corner
    weight = _cotangents(rest)
    one, two = triangles, np.roll(triangles, -1, axis=1)
    count = len(points)
    solve = splu(_laplacian(one, two, weight, count))
    flat = start.copy()
    for _ in range(_ROUNDS):
        now = flat[two] - flat[one]
        cross = np.einsum("mc,mci,mcj->mij", weight, now, edge)
        turn = _rotations(cross)
        wanted = weight[..., None] * np.einsum("mij,mcj->mci", turn, edge)
        pull = np.zeros((count, 2))
        np.add.at(pull, two.ravel(), wanted.reshape(-1, 2))
        np.add.at(pull, one.ravel(), -wanted.reshape(-1, 2))
        flat = solve.solve(pull)
    return np.asarray(flat)


def _own_planes(points: Floats, triangles: np.ndarray) -> Floats:
    """Corners (m, 3, 2) of every triangle in its own plane, counter-clockwise."""
    a, b, c = (points[triangles[:, i]] for i in range(3))
    x = b - a
    length = np.linalg.norm(x, axis=1)
    x = x / length[:, None]
    along = ((c - a) * x).sum(axis=1)
    up = np.linalg.norm(c - a - along[:, None] * x, axis=1)
    zero = np.zeros_like(length)
    corners = [np.stack(pair, axis=1) for pair in ((zero, zero), (length, zero), (along, up))]
    return np.stack(corners, axis=1)


def _cotangents(rest: Floats) -> Floats:
    """Cotangents (m, 3) of the angles opposite to the edges from corner 0, 1 and 2 to the next."""
    opposite = np.roll(rest, -2, axis=1)
    to_one, to_two = rest - opposite, np.roll(rest, -1, axis=1) - opposite
    dot = (to_one * to_two).sum(axis=-1)
    cross = to_one[..., 0] * to_two[..., 1] - to_one[..., 1] * to_two[..., 0]
    # Slightly obtuse triangles are kept from pulling the wrong way.
    return np.asarray(np.maximum(dot / np.abs(cross), 0.02))


def _laplacian(one: np.ndarray, two: np.ndarray, weight: Floats, count: int) -> coo_matrix:
    """The matrix of the global step; the first point is held by a spring of its own."""
    i, j, w = one.ravel(), two.ravel(), weight.ravel()
    rows = np.concatenate([i, j, i, j, [0]])
    columns = np.concatenate([i, j, j, i, [0]])
    values = np.concatenate([w, w, -w, -w, [1.0]])
    return coo_matrix((values, (rows, columns)), shape=(count, count)).tocsc()


def _rotations(matrices: Floats) -> Floats:
    """The rotations (m, 2, 2) nearest to matrices (m, 2, 2)."""
    angle = np.arctan2(matrices[:, 1, 0] - matrices[:, 0, 1], matrices[:, 0, 0] + matrices[:, 1, 1])
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.stack([c, -s], axis=1), np.stack([s, c], axis=1)], axis=1)


def _signed_area(flat: Floats, triangles: np.ndarray) -> float:
    p = flat[triangles]
    one, two = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum())

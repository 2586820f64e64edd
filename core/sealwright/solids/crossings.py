"""Pairs of triangles of one mesh that meet anywhere but in the corner or edge they share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats, Ints, TriMesh
from .boxes import overlapping_boxes
from .lattice import Signs, flat_axes, has_no_area, on_lattice, side_of_plane, turn

_CHUNK = 400_000  # pairs a round: keeps the working arrays under about 100 MB


def crossing_pairs(mesh: TriMesh) -> NDArray[np.int64]:
    """Triangles that cut, touch or cover each other, beyond what they share by index.

    Exact on the lattice of `on_lattice`. Triangles without area are left out: whatever passes through
    them also meets their neighbours.

    Parameters
    ----------
    mesh : closed or open, any units.

    Returns
    -------
    (k, 2) triangle numbers, first < second, sorted.
    """
    points, _ = on_lattice(mesh.vertices)
    faces = mesh.faces
    a, b, c = (points[faces[:, k]] for k in range(3))
    first, second = overlapping_boxes(np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c))
    line = has_no_area(a, b, c)
    solid = ~(line[first] | line[second])
    first, second = first[solid], second[solid]
    found = []
    for start in range(0, len(first), _CHUNK):
        part = slice(start, start + _CHUNK)
        hit = _meet(points, faces[first[part]], faces[second[part]])
        found.append(np.stack([first[part][hit], second[part][hit]], axis=1))
    return np.vstack(found) if found else np.zeros((0, 2), dtype=np.int64)


def _meet(points: Floats, one: Ints, two: Ints) -> Bools:
    """For pairs of triangles (k, 3) by index: do they meet beyond the corners they share?"""
    first, second, shared = _shared_first(one, two)
    result: Bools = shared == 3
    for count, test in ((0, _apart_meet), (1, _corner_meet), (2, _edge_meet)):
        rows = np.flatnonzero(shared == count)
        result[rows] = test(points[first[rows]], points[second[rows]])
    return result


def _shared_first(one: Ints, two: Ints) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Both triangles turned so that shared corners come first in each, and how many they share."""
    in_one, in_two = _is_any_of(one, two), _is_any_of(two, one)
    # Numbers of corners that are not shared are raised, so that sorting puts the shared ones first,
    # in the same order in both.
    lift = np.int64(2**32)
    first = np.sort(one + lift * ~in_one, axis=1) % lift
    second = np.sort(two + lift * ~in_two, axis=1) % lift
    return first, second, in_one.sum(axis=1)


def _is_any_of(one: Ints, two: Ints) -> Bools:
    """Which corners (k, 3) of ``one`` are corners of ``two``."""
    found: Bools = (one == two[:, :1]) | (one == two[:, 1:2]) | (one == two[:, 2:])
    return found


def _edge_meet(one: Floats, two: Floats) -> Bools:
    """Triangles (k, 3, 3) sharing their first two corners: folded flat onto each other?"""
    flat = np.flatnonzero(side_of_plane(one[:, 0], one[:, 1], one[:, 2], two[:, 2]) == 0)
    result = np.zeros(len(one), dtype=np.bool_)
    p, q = _in_plane(one[flat], two[flat])
    result[flat] = turn(p[:, 0], p[:, 1], p[:, 2]) == turn(p[:, 0], p[:, 1], q[:, 2])
    return result


def _corner_meet(one: Floats, two: Floats) -> Bools:
    """Triangles sharing their first corner: does the far edge of either meet the other?"""
    sides = np.stack([side_of_plane(one[:, 0], one[:, 1], one[:, 2], two[:, k]) for k in (1, 2)], axis=1)
    rows = np.flatnonzero(sides.prod(axis=1) <= 0)
    result = np.zeros(len(one), dtype=np.bool_)
    flat = (sides[rows] == 0).all(axis=1)
    result[rows[flat]] = _flat_meet(one[rows[flat]], two[rows[flat]], [(1, 2)])
    rows = rows[~flat]
    one, two, hit = one[rows], two[rows], np.zeros(len(rows), dtype=np.bool_)
    hit |= _edge_through(two[:, 1], two[:, 2], one, sides[rows])
    back = np.stack([side_of_plane(two[:, 0], two[:, 1], two[:, 2], one[:, k]) for k in (1, 2)], axis=1)
    hit |= _edge_through(one[:, 1], one[:, 2], two, back)
    result[rows] = hit
    return result


def _apart_meet(one: Floats, two: Floats) -> Bools:
    """Triangles without a shared corner."""
    result = np.zeros(len(one), dtype=np.bool_)
    sides = _corner_sides(one, two)
    rows = np.flatnonzero(np.abs(sides.sum(axis=1)) < 3)
    flat = (sides[rows] == 0).all(axis=1)
    result[rows[flat]] = _flat_meet(one[rows[flat]], two[rows[flat]], [(0, 1), (1, 2), (2, 0)])
    rows = rows[~flat]
    back = _corner_sides(two[rows], one[rows])
    cut = np.abs(back.sum(axis=1)) < 3
    rows, back = rows[cut], back[cut]
    one, two, sides, hit = one[rows], two[rows], sides[rows], np.zeros(len(rows), dtype=np.bool_)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        hit |= _edge_through(two[:, i], two[:, j], one, sides[:, [i, j]])
        hit |= _edge_through(one[:, i], one[:, j], two, back[:, [i, j]])
    result[rows] = hit
    return result


def _corner_sides(plane: Floats, other: Floats) -> Signs:
    """Sides (k, 3) of the corners of ``other`` against the planes of triangles ``plane``."""
    a, b, c = plane[:, 0], plane[:, 1], plane[:, 2]
    return np.stack([side_of_plane(a, b, c, other[:, k]) for k in range(3)], axis=1)


def _edge_through(p: Floats, q: Floats, triangle: Floats, sides: Signs) -> Bools:
    """Does the closed edge pq, with ends on ``sides`` (k, 2) of the triangle's plane, meet the triangle?

    Edges that lie in the plane are left out: then an edge of the triangle meets the other triangle.
    """
    result = np.zeros(len(p), dtype=np.bool_)
    rows = np.flatnonzero((sides.prod(axis=1) <= 0) & (sides != 0).any(axis=1))
    p, q, t = p[rows], q[rows], triangle[rows]
    round_ = np.stack([side_of_plane(p, q, t[:, i], t[:, j]) for i, j in ((0, 1), (1, 2), (2, 0))], axis=1)
    result[rows] = (round_ >= 0).all(axis=1) | (round_ <= 0).all(axis=1)
    return result


def _in_plane(one: Floats, two: Floats) -> tuple[Floats, Floats]:
    """Two coplanar triangles (k, 3, 3) as plane triangles (k, 3, 2), seen along the best axis."""
    axes = flat_axes(one[:, 0], one[:, 1], one[:, 2])[:, None, :]
    return np.take_along_axis(one, axes, axis=2), np.take_along_axis(two, axes, axis=2)


def _flat_meet(one: Floats, two: Floats, edges: list[tuple[int, int]]) -> Bools:
    """Do coplanar triangles meet: one of ``edges`` of either meets the other triangle."""
    p, q = _in_plane(one, two)
    result = np.zeros(len(one), dtype=np.bool_)
    for i, j in edges:
        result |= _flat_edge_meets(p[:, i], p[:, j], q) | _flat_edge_meets(q[:, i], q[:, j], p)
    return result


def _flat_edge_meets(p: Floats, q: Floats, triangle: Floats) -> Bools:
    """Does the closed plane edge pq (k, 2) meet the closed plane triangle (k, 3, 2)?"""
    result = _flat_holds(triangle, p)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        a, b = triangle[:, i], triangle[:, j]
        across = (turn(a, b, p) * turn(a, b, q) <= 0) & (turn(p, q, a) * turn(p, q, b) <= 0)
        boxes = (np.maximum(a, b) >= np.minimum(p, q)) & (np.minimum(a, b) <= np.maximum(p, q))
        result |= across & boxes.all(axis=1)
    return result


def _flat_holds(triangle: Floats, p: Floats) -> Bools:
    """Is the plane point in the closed plane triangle?"""
    sides = np.stack([turn(triangle[:, i], triangle[:, (i + 1) % 3], p) for i in range(3)], axis=1)
    return np.asarray((sides >= 0).all(axis=1) | (sides <= 0).all(axis=1))

"""Rounded solids: the convex hull of balls, so that every edge has a known radius."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..mesh import Floats, Ints, TriMesh
from .boolean import Solid, solid_of


def ball_points(radius_mm: float, meridians: int = 24) -> Floats:
    """Points (k, 3) on a ball about the origin: poles on Z, ``meridians`` round, half as many steps along."""
    steps = meridians // 2
    polar = np.arange(1, steps) * (math.pi / steps)
    turn = np.arange(meridians) * (2.0 * math.pi / meridians)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    body = np.concatenate(
        [np.column_stack([math.sin(p) * ring, np.full(meridians, math.cos(p))]) for p in polar]
    )
    return radius_mm * np.vstack([[0.0, 0.0, 1.0], body, [0.0, 0.0, -1.0]])


def _outer_points(centres: Floats, radii: Floats, meridians: Ints, count: int) -> Floats:
    """Points (n, 3) of the balls (k, 3) with ``count`` meridians, without most inside the hull of all balls.

    No direction lies further than half a diagonal of the steps between its points, sqrt(2) pi / meridians,
    from a point of a ball. So a ball's points reach along any direction at least its radius times the cosine
    of that; and a point can be a corner of the hull only if along a direction so near to its own no other
    ball reaches further. Turned by so much, a direction changes what two balls reach by at most the distance
    of their middles times the angle.
    """
    ball = ball_points(1.0, count)
    own = np.flatnonzero(meridians == count)
    middle = ball @ centres.T
    least = middle + radii * np.cos(math.sqrt(2.0) * math.pi / meridians)
    furthest = np.argmax(least, axis=1)
    apart = np.linalg.norm(centres[own][None] - centres[furthest][:, None], axis=-1)
    slack = apart * (math.sqrt(2.0) * math.pi / count)
    kept = middle[:, own] + radii[own] >= least.max(axis=1)[:, None] - slack
    point, which = np.nonzero(kept)
    return np.asarray(centres[own][which] + radii[own][which, None] * ball[point])


def rounded_hull(
    centres: ArrayLike, radius_mm: ArrayLike, role: str, meridians: int | Sequence[int] = 24
) -> Solid:
    """The convex hull of balls: a capsule for two, a rounded plate for four.

    Parameters
    ----------
    centres : (k, 3) ball centres, mm.
    radius_mm : one ball radius, or one (k,) for each: the radii of the edges of the result.
    meridians : points round each ball, one number for all or one for each.

    Raises
    ------
    BadSolid : the hull is not a solid.
    """
    from scipy.spatial import ConvexHull

    middle = np.asarray(centres, dtype=np.float64)
    radii = np.broadcast_to(np.asarray(radius_mm, dtype=np.float64), len(middle))
    around = np.broadcast_to(np.asarray(meridians), len(middle))
    points = np.vstack([_outer_points(middle, radii, around, count) for count in set(around.tolist())])
    hull = ConvexHull(points)
    used, compact = np.unique(hull.simplices, return_inverse=True)
    faces = compact.reshape(-1, 3).astype(np.int32)
    vertices = points[used]
    corners = vertices[faces]
    outward = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    turned = np.einsum("ij,ij->i", outward, hull.equations[:, :3]) < 0
    faces[turned] = faces[turned][:, ::-1]
    return solid_of(TriMesh(vertices, faces), role)

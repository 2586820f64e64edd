"""Closed primitive solids made directly as vectorised grids: revolved, prismatic, boxes and rounded hulls."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..errors import BadSolid, Where
from ..mesh import Floats, Ints, TriMesh
from .boolean import Solid, solid_of

SEGMENTS = 128  # sides of a full circle: at radius 25 mm the flat sides lie 0.008 mm inside the circle


def angles(segments: int) -> Floats:
    """Angles (segments,) of the corners of a regular polygon, rad; the first is 0 (+X)."""
    return np.arange(segments, dtype=np.float64) * (2.0 * math.pi / segments)


def around_circle(radius_mm: float, segments: int = SEGMENTS) -> float:
    """Corner radius, mm, of the regular polygon whose sides touch a circle from outside."""
    return radius_mm / math.cos(math.pi / segments)


def revolved(profile: ArrayLike, role: str, segments: int = SEGMENTS) -> Solid:
    """A profile turned about the Z axis.

    Parameters
    ----------
    profile : (k, 2) radius and z in mm, a simple polygon counter-clockwise in the (r, z) plane, r >= 0. It
        may touch the axis along one run of points; that run must then be the end and the start of the list.
    role : what the solid is.
    segments : sides of the full circle; corners lie on the true circle, the first at +X.

    Raises
    ------
    BadSolid : the profile crosses the axis, or encloses no area.
    """
    points = np.asarray(profile, dtype=np.float64)
    area = 0.5 * float(np.sum(_cross(points, np.roll(points, -1, axis=0))))
    if points[:, 0].min() < 0 or area <= 0:
        raise BadSolid(
            f"The profile of the {role} has its smallest radius at {points[:, 0].min():.3f} mm and an area "
            f"of {area:.3f} mm2.",
            Where(role),
            "Check the diameters it is made from: an inner one may exceed an outer one.",
        )
    return solid_of(_revolved_mesh(points, segments), role)


def _cross(a: Floats, b: Floats) -> Floats:
    out: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


def _revolved_mesh(points: Floats, segments: int) -> TriMesh:
    """Grid of the profile points round the axis; points on the axis are single vertices."""
    k, turn = len(points), angles(segments)
    on_axis = points[:, 0] == 0.0
    first = np.concatenate([[0], np.cumsum(np.where(on_axis, 1, segments))])
    sizes = np.where(on_axis, 1, segments)
    vertices = np.zeros((int(first[-1]), 3))
    owner = np.repeat(np.arange(k), sizes)
    column = np.arange(len(owner)) - first[owner]
    vertices[:, 0] = points[owner, 0] * np.cos(turn[column])
    vertices[:, 1] = points[owner, 0] * np.sin(turn[column])
    vertices[:, 2] = points[owner, 1]
    step = np.arange(segments)
    following = (step + 1) % segments
    after = np.roll(np.arange(k), -1)

    def index(row: Ints, col: Ints) -> Ints:
        """Vertices of the places; one for a whole ring on the axis."""
        out: Ints = (first[row][:, None] + np.where(on_axis[row][:, None], 0, col[None, :])).astype(np.int32)
        return out

    rows = np.arange(k, dtype=np.int32)
    a, b = index(rows, step.astype(np.int32)), index(rows, following.astype(np.int32))
    c, d = (
        index(after.astype(np.int32), following.astype(np.int32)),
        index(after.astype(np.int32), step.astype(np.int32)),
    )
    faces = np.concatenate(
        [np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], axis=-1).reshape(-1, 3)]
    )
    real = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return TriMesh(vertices, np.ascontiguousarray(faces[real]))


def cylinder(
    radius_mm: float, z_low_mm: float, z_high_mm: float, role: str, segments: int = SEGMENTS
) -> Solid:
    """A solid cylinder on the Z axis between two heights, corners on the true circle."""
    return frustum(radius_mm, radius_mm, z_low_mm, z_high_mm, role, segments)


def frustum(
    low_radius_mm: float,
    high_radius_mm: float,
    z_low_mm: float,
    z_high_mm: float,
    role: str,
    segments: int = SEGMENTS,
) -> Solid:
    """A solid cone frustum on the Z axis, radii at its low and high end."""
    profile = [(0.0, z_low_mm), (low_radius_mm, z_low_mm), (high_radius_mm, z_high_mm), (0.0, z_high_mm)]
    return revolved(profile, role, segments)


def tube(
    inner_mm: float, outer_mm: float, z_low_mm: float, z_high_mm: float, role: str, segments: int = SEGMENTS
) -> Solid:
    """A straight tube on the Z axis, inner and outer radius."""
    profile = [(inner_mm, z_low_mm), (outer_mm, z_low_mm), (outer_mm, z_high_mm), (inner_mm, z_high_mm)]
    return revolved(profile, role, segments)


def prism(outline: ArrayLike, z_low_mm: float, z_high_mm: float, role: str) -> Solid:
    """An outline extruded along Z.

    Parameters
    ----------
    outline : (k, 2) x and y in mm, counter-clockwise, every corner visible from its centroid (star-shaped).

    Raises
    ------
    BadSolid : the outline is clockwise or not star-shaped about its centroid, or the heights are in wrong
        order.
    """
    return lofted([outline, outline], [z_low_mm, z_high_mm], role)


def lofted(outlines: Sequence[ArrayLike], heights_mm: Sequence[float], role: str) -> Solid:
    """The solid through outlines with as many corners each, stacked at rising heights.

    Parameters
    ----------
    outlines : two or more (k, 2), x and y in mm, counter-clockwise, every corner visible from the mean of the
        corners (star-shaped).
    heights_mm : height of each outline.

    Raises
    ------
    BadSolid : an outline is clockwise or not star-shaped, or the heights do not rise.
    """
    rings = np.stack([np.asarray(outline, dtype=np.float64) for outline in outlines])
    spokes = rings - rings.mean(axis=1, keepdims=True)
    turning = _cross(spokes.reshape(-1, 2), np.roll(spokes, -1, axis=1).reshape(-1, 2))
    if np.diff(heights_mm).min() <= 0 or turning.min() <= 0:
        raise BadSolid(
            f"An outline of the {role} is not star-shaped and counter-clockwise, or its heights "
            f"{[round(float(h), 3) for h in heights_mm]} mm do not rise.",
            Where(role),
            "Check the sizes it is made from.",
        )
    levels, k = rings.shape[:2]
    heights = np.repeat(np.asarray(heights_mm, dtype=np.float64), k)
    hubs = np.column_stack([rings[[0, -1]].mean(axis=1), [heights[0], heights[-1]]])
    vertices = np.vstack([np.column_stack([rings.reshape(-1, 2), heights]), hubs])
    here = np.arange(k)
    after = (here + 1) % k
    base = (np.arange(levels - 1) * k)[:, None]
    i, j = (base + here).ravel(), (base + after).ravel()
    top = (levels - 1) * k
    low_hub, high_hub = np.full(k, levels * k), np.full(k, levels * k + 1)
    faces = np.vstack(
        [
            np.stack([i, j, j + k], axis=1),
            np.stack([i, j + k, i + k], axis=1),
            np.stack([low_hub, after, here], axis=1),
            np.stack([high_hub, top + here, top + after], axis=1),
        ]
    )
    return solid_of(TriMesh(vertices, faces.astype(np.int32)), role)


def scattered(mesh_vertices: Floats, mesh_faces: Ints, role: str) -> Solid:
    """Many separate equal-built pieces as one solid.

    Parameters
    ----------
    mesh_vertices : (p, n, 3) corners of each piece, mm; pieces must not touch.
    mesh_faces : (m, 3) triangles of one piece, outward.

    Raises
    ------
    BadSolid : a piece is open or inside out.
    """
    count, size = mesh_vertices.shape[:2]
    faces = mesh_faces[None] + (np.arange(count, dtype=np.int32) * size)[:, None, None]
    return solid_of(TriMesh(mesh_vertices.reshape(-1, 3).copy(), faces.reshape(-1, 3).astype(np.int32)), role)


def prism_faces(corners: int, levels: int = 2) -> Ints:
    """Triangles of a prism through convex outlines, bottom corners first, counter-clockwise from above."""
    i = np.arange(corners)
    base = (np.arange(levels - 1) * corners)[:, None]
    low, after = (base + i).ravel(), (base + (i + 1) % corners).ravel()
    fan = np.arange(1, corners - 1)
    zero = np.zeros_like(fan)
    faces = np.vstack(
        [
            np.stack([low, after, after + corners], axis=1),
            np.stack([low, after + corners, low + corners], axis=1),
            np.stack([zero, fan + 1, fan], axis=1),
            np.stack([zero, fan, fan + 1], axis=1) + (levels - 1) * corners,
        ]
    )
    return faces.astype(np.int32)


def cuboid(low: ArrayLike, high: ArrayLike, role: str) -> Solid:
    """An axis-parallel box between its lowest and highest corner (3,), mm."""
    (x0, y0, z0), (x1, y1, z1) = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return prism([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float(z0), float(z1), role)


def rounded_rectangle(
    length_mm: float, width_mm: float, corner_radius_mm: float, corner_points: int = 16
) -> Floats:
    """Counter-clockwise outline (4 * corner_points, 2), mm, of a centred rectangle with rounded corners."""
    radius = min(corner_radius_mm, 0.499 * min(length_mm, width_mm))
    quarter = np.linspace(0.0, 0.5 * math.pi, corner_points)
    arc = radius * np.column_stack([np.cos(quarter), np.sin(quarter)])
    inset = np.array([0.5 * length_mm - radius, 0.5 * width_mm - radius])
    parts = []
    for turn, (sx, sy) in enumerate([(1, 1), (-1, 1), (-1, -1), (1, -1)]):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][turn]
        parts.append(arc @ np.array([[c, s], [-s, c]]) + inset * (sx, sy))
    return np.vstack(parts)


def circle(radius_mm: float, segments: int = SEGMENTS) -> Floats:
    """Counter-clockwise outline (segments, 2) of a regular polygon with its corners on the circle, mm."""
    turn = angles(segments)
    return radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])

"""The face as a closed solid: what a body or a tube is trimmed by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..errors import OffTheScan, Where
from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import Solid, solid_of, triangles_between
from ..solids.distance import MeshDistance
from .clearance import grown_by_ball
from .denoise import nearest_filled
from .fine_sheet import FineSheet, fine_sheet
from .quadtree import whole_squares
from .stand_off import StandOff, at_distance
from .surface import FaceSurface

_MARGIN_MM = (
    6.0  # skin round the touching parts that also takes part, so that nothing near can enter the face
)
_TOUCH_PX = 3.0  # skin nearer to the touching parts may be touched and is followed as finely as the scan asks


def face_solid(
    face: FaceSurface,
    near: Floats,
    stand_off: StandOff,
    depth_share: float = 0.2,
    filled: bool = False,
) -> Solid:
    """The skin round some points as a closed solid that reaches into the head.

    Parameters
    ----------
    face : the face surface.
    near : (k, 3) points in mm; skin within 6 mm of their places takes part.
    stand_off : the skin is first grown by this distance (shrunk where negative).
    depth_share : how deep it reaches, as a share of the distance to the chart's centre.
    filled : also take all skin that the points go round.

    Raises
    ------
    OffTheScan : there is no skin at these points.

    The result is closed and outward by construction: every ray of the chart meets its top once.
    """
    # Past the border of the scan the nearest skin goes on, so that a ragged border cannot let the body in.
    marked = _marked(face, near)
    if not marked.any() or not (squares := _squares_near(face, marked, filled)).any():
        x, y, z = near[0]
        raise OffTheScan(
            "There is no skin where the body should touch the face.",
            Where("contact band", point=(float(x), float(y), float(z))),
            "Move the seal line onto scanned skin.",
        )
    close = np.asarray(ndimage.distance_transform_edt(~marked) <= _TOUCH_PX)
    top = fine_sheet(face, nearest_filled(face.radii, face.known), squares, squares & whole_squares(close))
    if not stand_off.is_even or stand_off.base_mm != 0.0 or stand_off.rounded_mm is not None:
        top = replace(top, points=_stood_off(face, top, close, stand_off))
    return solid_of(_radial_prism(face, top, squares, depth_share), "face")


def _stood_off(face: FaceSurface, sheet: FineSheet, close: Bools, stand_off: StandOff) -> Floats:
    """The sheet's points at the stand-off: exactly where the body may touch, grown by a ball elsewhere."""
    pq, radius = face.chart.place_of(sheet.points)
    place = face.chart.pixels_of(pq).T
    rise = grown_by_ball(face.chart, face.radii, stand_off.base_mm) - nearest_filled(face.radii, face.known)
    radius = radius + ndimage.map_coordinates(rise, place, order=1, mode="nearest")
    wanted = stand_off.at(face.chart, pq)
    radius = radius + (wanted - stand_off.base_mm)
    points = face.chart.centre + face.chart.direction_at(pq) * radius[:, None]
    exact = close[tuple(np.rint(place).astype(np.int64))]
    skin = MeshDistance(TriMesh(sheet.points, sheet.faces))
    points[exact] = at_distance(points[exact], face.chart.centre, skin, wanted[exact])
    rounding = stand_off.rounding_at(face.chart, pq)
    points += face.chart.direction_at(pq) * rounding[:, None]
    return np.asarray(points)


def _marked(face: FaceSurface, near: Floats) -> Bools:
    """Pixels (h, w) at the places of the points."""
    pixel = np.rint(face.chart.pixels_of(face.chart.place_of(near)[0])).astype(np.int64)
    pixel = pixel[((pixel >= 0) & (pixel < face.chart.side)).all(axis=1)]
    marked = np.zeros(face.radii.shape, dtype=bool)
    marked[pixel[:, 0], pixel[:, 1]] = True
    return marked


def _squares_near(face: FaceSurface, marked: Bools, filled: bool) -> Bools:
    """Pixel squares (h - 1, w - 1) near the marked pixels: one ring or patch."""
    smallest = face.chart.pitch_rad * float(nearest_filled(face.radii, face.known)[marked].min())
    vertex = ndimage.distance_transform_edt(~marked) <= _MARGIN_MM / smallest
    vertex = ndimage.binary_fill_holes(vertex) if filled else vertex
    squares = whole_squares(vertex)
    labels, count = ndimage.label(squares)
    if count > 1:
        touched = labels[marked[:-1, :-1]]
        weight = np.bincount(touched[touched > 0], minlength=count + 1)
        squares = labels == int(np.argmax(weight))
    return without_touching_corners(squares)


def without_touching_corners(squares: Bools) -> Bools:
    """Drop squares until no two meet only at a corner, where the solid would not be a manifold."""
    while True:
        a, b = squares[:-1, :-1], squares[:-1, 1:]
        c, d = squares[1:, 1:], squares[1:, :-1]
        first, second = a & c & ~b & ~d, b & d & ~a & ~c
        if not (first.any() or second.any()):
            return squares
        squares = squares.copy()
        squares[:-1, :-1][first] = False
        squares[:-1, 1:][second] = False


def _radial_prism(face: FaceSurface, top: FineSheet, squares: Bools, depth_share: float) -> TriMesh:
    """The sheet as top, walls along the rays of its border, and a bottom on a ball inside the head.

    The bottom has no points but those of the border: its chords lie inside the ball, and so below the sheet.
    """
    index = np.where(top.pixels, np.cumsum(top.pixels).reshape(top.pixels.shape) - 1, -1).astype(np.int32)
    rim = rim_edges(index, squares)
    loops = rings_of(rim)
    border = np.concatenate(loops)
    rays = top.points - face.chart.centre
    radius = np.linalg.norm(rays, axis=1)
    ball = (1.0 - depth_share) * radius.min()
    directions = rays[border] / radius[border, None]
    below = face.chart.centre + ball * directions
    flat = _on_a_plane(face, directions)
    ends = np.cumsum([len(loop) for loop in loops])[:-1]
    filled = triangles_between(np.split(flat, ends))
    under = np.full(len(top.points), -1, dtype=np.int32)
    under[border] = len(top.points) + np.arange(len(border), dtype=np.int32)
    start, end = rim.T
    walls = np.vstack(
        [np.stack([end, start, under[start]], axis=1), np.stack([end, under[start], under[end]], axis=1)]
    )
    bottom = under[border][filled[:, ::-1]]
    faces = np.vstack([top.faces, bottom, walls]).astype(np.int32)
    return TriMesh(np.concatenate([top.points, below]), faces)


def _on_a_plane(face: FaceSurface, directions: Floats) -> Floats:
    """Plane places (k, 2) of directions (k, 3), seen as on the chart.

    On the plane that touches the ball in their middle straight lines are chords of the ball; where they go
    too far round it for that, their places on the chart serve.
    """
    pq, _ = face.chart.place_of(face.chart.centre + directions.mean(axis=0))
    middle = face.chart.direction_at(pq)
    right = face.chart.axes[0] - (face.chart.axes[0] @ middle) * middle
    right = right / np.linalg.norm(right)
    up = np.cross(middle, right)
    ahead = directions @ middle
    if ahead.min() < 0.1:
        return face.chart.place_of(face.chart.centre + directions)[0]
    up = up if up @ face.chart.axes[1] > 0 else -up
    return np.asarray(np.stack([directions @ right, directions @ up], axis=1) / ahead[:, None])


def rim_edges(index: NDArray[np.int32], squares: Bools) -> NDArray[np.int32]:
    """Edges (e, 2) of the squares that no second square shares, with the square on their left."""
    padded = np.pad(squares, 1)
    here = padded[1:-1, 1:-1]
    low, high = here & ~padded[:-2, 1:-1], here & ~padded[2:, 1:-1]
    left, right = here & ~padded[1:-1, :-2], here & ~padded[1:-1, 2:]
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    sides = [(a, b, low), (b, c, right), (c, d, high), (d, a, left)]
    return np.vstack([np.stack([start[on], end[on]], axis=1) for start, end, on in sides])


def rings_of(edges: NDArray[np.int32]) -> list[NDArray[np.int32]]:
    """Directed edges (e, 2), one from each vertex, as closed loops of vertices."""
    following = dict(edges.tolist())
    loops = []
    while following:
        start, here = following.popitem()
        loop = [start]
        while here != start:
            loop.append(here)
            here = following.pop(here)
        loops.append(np.array(loop, dtype=np.int32))
    return loops

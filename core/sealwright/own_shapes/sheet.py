"""Sheets over a region of the chart: one point for every ray, so that a sheet cannot cross itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ..face.chart import RadialChart
from ..face.face_solid import rim_edges, rings_of, without_touching_corners
from ..face.quadtree import whole_squares
from ..face.surface import sheet_faces
from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import triangles_between
from ..solids.polygon import closed_edges, inside_edges

_CLEAR_PX = 0.75  # lattice points lie no nearer to the border
_DENSE_PX = 0.5  # places at which the border is marked


def sheet_within(
    chart: RadialChart, loops: Sequence[Floats], lifted: Callable[[Floats], Floats]
) -> tuple[TriMesh, int]:
    """A sheet within closed loops: the loops themselves, and a lattice between them.

    Parameters
    ----------
    chart : its rays and its pixels.
    loops : (n, 3) each, mm, the region on their left: one round it, the others round its holes.
    lifted : lattice places (k, 2) of the chart to points (k, 3) of the sheet.

    Returns
    -------
    The sheet, facing away from the chart's centre, and how many of its points, the first, are those of the
    loops, one loop after the other.
    """
    flat = [chart.pixels_of(chart.place_of(loop)[0])[:, ::-1] for loop in loops]  # column, row
    squares = _squares_inside(chart, flat)
    index = np.full((chart.side, chart.side), -1, dtype=np.int32)
    vertex = np.zeros_like(index, dtype=bool)
    for rows in (slice(0, -1), slice(1, None)):
        for columns in (slice(0, -1), slice(1, None)):
            vertex[rows, columns] |= squares
    row, column = np.nonzero(vertex)
    border = sum(len(loop) for loop in loops)
    index[row, column] = border + np.arange(len(row), dtype=np.int32)
    rings = rings_of(rim_edges(index, squares))
    place = np.vstack([*flat, np.column_stack([column, row])])
    gap = [*flat, *[place[ring[::-1]] for ring in rings]]
    of_gap = np.concatenate([np.arange(border), *[ring[::-1] for ring in rings]])
    faces = [sheet_faces(index, squares), of_gap[triangles_between(gap)]]
    pq = np.asarray((np.column_stack([column, row]) - chart.half) * chart.pitch_rad, dtype=np.float64)
    points = np.vstack([*loops, lifted(pq)]) if len(pq) else np.vstack(loops)
    return TriMesh(points, np.vstack(faces).astype(np.int32)), border


def _squares_inside(chart: RadialChart, loops: Sequence[Floats]) -> Bools:
    """Pixel squares (h - 1, w - 1) well inside of the loops (n, 2), in pixels as column and row."""
    edges = np.concatenate([closed_edges(loop) for loop in loops])
    column, row = np.meshgrid(np.arange(chart.side), np.arange(chart.side))
    inside = inside_edges(np.asarray(np.stack([column, row], axis=-1), dtype=np.float64), edges)
    length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    steps = np.maximum(np.ceil(length / _DENSE_PX).astype(np.int64), 1)
    owner = np.repeat(np.arange(len(edges)), steps)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[owner]
    marks: Floats = edges[owner, 0] + share[:, None] * (edges[owner, 1] - edges[owner, 0])
    clear = inside & (_away(marks, inside.shape) > _CLEAR_PX)
    return without_touching_corners(whole_squares(clear))


def _away(marks: Floats, shape: tuple[int, ...]) -> Floats:
    """Distance (h, w) in pixels of every pixel from the nearest of some marks (n, 2), where that is small."""
    near = np.full(shape, np.inf)
    base = np.floor(marks).astype(np.int64)
    for down in range(-1, 3):
        for right in range(-1, 3):
            at = base + np.array([right, down])
            ok = ((at >= 0) & (at < (shape[1], shape[0]))).all(axis=1)
            np.minimum.at(near, (at[ok, 1], at[ok, 0]), np.linalg.norm(at[ok] - marks[ok], axis=1))
    return near

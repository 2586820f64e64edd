"""The scan as an image of radii: exact ray and triangle intersection at every pixel of the chart."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats, TriMesh
from .chart import RadialChart

_CHUNK = 3_000_000  # candidate pixel-triangle pairs held at once, about 400 MB at the peak


def rasterise_radii(
    mesh: TriMesh, chart: RadialChart, furthest_mm: float, wanted: Bools | None = None
) -> Floats:
    """Radius of the outermost skin at every pixel of the chart; see `ScanOnChart.radii`.

    Parameters
    ----------
    mesh : in the face frame, mm.
    chart : where to look.
    furthest_mm : triangles with a corner further from the centre than this are left out.
    wanted : (side, side) pixels to look at; None takes all.
    """
    return ScanOnChart(mesh, chart, furthest_mm).radii(wanted)


class ScanOnChart:
    """A scan's triangles with the boxes of pixels that hold them, for one or more looks at its skin.

    Parameters
    ----------
    mesh : in the face frame, mm.
    chart : where to look.
    furthest_mm : triangles with a corner further from the centre than this are left out.
    """

    def __init__(self, mesh: TriMesh, chart: RadialChart, furthest_mm: float) -> None:
        self._chart, self._vertices = chart, mesh.vertices
        pq, distance = chart.place_of(mesh.vertices)
        pixel = chart.pixels_of(pq)
        # Behind the head the chart wraps round; such triangles are outside the mask region anyway.
        usable = (np.abs(pixel - chart.half) <= chart.half + 2).all(axis=1) & (distance < furthest_mm)
        usable &= np.hypot(pq[:, 0], pq[:, 1]) < 2.6
        faces = mesh.faces[usable[mesh.faces].any(axis=1)]
        self._boxes = _boxes(faces, pixel, distance, chart, furthest_mm)

    def radii(self, wanted: Bools | None = None) -> Floats:
        """Radius of the outermost skin at pixels of the chart.

        Parameters
        ----------
        wanted : (side, side) pixels to look at; None takes all. Cost follows their number.

        Returns
        -------
        (side, side) mm; NaN where no ray meets the mesh, and where nothing is wanted.
        """
        chart = self._chart
        rays = np.arange(chart.side**2) if wanted is None else np.flatnonzero(wanted)
        slot = np.full(chart.side**2, -1)
        slot[rays] = np.arange(len(rays))
        found = np.full(len(rays), -np.inf)
        row, column = np.divmod(rays, chart.side)
        directions = chart.direction_at((np.stack([column, row], axis=1) - chart.half) * chart.pitch_rad)
        faces, low, size = self._boxes
        if wanted is not None:
            near = _hold_wanted(wanted, low, size)
            faces, low, size = faces[near], low[near], size[near]
        corners = self._vertices[faces] - chart.centre
        # Weight of a corner along a ray d is d . (next x after next): three planes through the centre.
        planes = np.cross(corners[:, [1, 2, 0]], corners[:, [2, 0, 1]])
        volume = np.einsum("ij,ij->i", corners[:, 0], planes[:, 0])
        # Seen from the inside the weights of a hit are negative; turning the planes makes one test of two.
        facing = np.where(volume < 0, -1.0, 1.0)
        planes, volume = planes * facing[:, None, None], np.abs(volume)
        for owner, target in _candidates(low, size, chart.side):
            target = slot[target]
            if wanted is not None:
                owner, target = owner[target >= 0], target[target >= 0]
            weights = np.einsum("kij,kj->ki", planes[owner], directions[target])
            total = weights.sum(axis=1)
            # Closed triangles: the slack lets no ray slip between neighbours.
            hit = (weights.min(axis=1) >= -1e-9 * total) & (total > 0)
            np.maximum.at(found, target[hit], volume[owner[hit]] / total[hit])
        radii = np.full(chart.side**2, np.nan)
        radii[rays] = np.where(np.isinf(found), np.nan, found)
        return radii.reshape(chart.side, chart.side)


def _hold_wanted(wanted: Bools, low: NDArray[np.int64], size: NDArray[np.int64]) -> Bools:
    """Which boxes (n,) hold a wanted pixel, by a summed-area table."""
    table = np.zeros((wanted.shape[0] + 1, wanted.shape[1] + 1), dtype=np.int32)
    np.cumsum(wanted.cumsum(axis=0, dtype=np.int32), axis=1, out=table[1:, 1:])
    (row, column), (row_end, column_end) = low.T, (low + size).T
    inside = table[row_end, column_end] - table[row, column_end] - table[row_end, column] + table[row, column]
    return np.asarray(inside > 0)


def _boxes(
    faces: NDArray[np.int32], pixel: Floats, distance: Floats, chart: RadialChart, furthest_mm: float
) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.int64]]:
    """Triangles with the pixel boxes that surely hold them."""
    corner = pixel[faces]
    low, high = corner.min(axis=1), corner.max(axis=1)
    span = (high - low).max(axis=1)
    near = (span * chart.pitch_rad < 1.0) & (distance[faces] < furthest_mm).all(axis=1)
    # A great circle bulges from the straight line of the chart by less than (angle^2) / 4.
    bulge = (span * chart.pitch_rad) ** 2 / 4 / chart.pitch_rad + 1e-6
    first = np.ceil(low - bulge[:, None]).clip(0, chart.side - 1).astype(np.int64)
    last = np.floor(high + bulge[:, None]).clip(0, chart.side - 1).astype(np.int64)
    size = last - first + 1
    near &= (size > 0).all(axis=1) & (high >= 0).all(axis=1) & (low <= chart.side - 1).all(axis=1)
    return faces[near], first[near], size[near]


def _candidates(
    low: NDArray[np.int64], size: NDArray[np.int64], side: int
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Pairs (triangle, flat pixel) of all boxes, in chunks."""
    counts = size.prod(axis=1)
    start = 0
    ends = np.cumsum(counts)
    while start < len(counts):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + _CHUNK, side="right")), start + 1)
        owner = np.repeat(np.arange(start, stop), counts[start:stop])
        within = np.arange(len(owner)) - np.repeat(
            ends[start:stop] - counts[start:stop] - done, counts[start:stop]
        )
        width = size[owner, 1]
        target = (low[owner, 0] + within // width) * side + low[owner, 1] + within % width
        yield owner, target
        start = stop

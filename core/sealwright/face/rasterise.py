"""The scan as an image of radii: exact ray and triangle intersection at every pixel of the chart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..mesh import Bools, Floats, Ints, TriMesh, at_any_corner
from .chart import RadialChart

_CHUNK = 3_000_000  # candidate pixel-triangle pairs held at once, about 400 MB at the peak
_LARGE_PX = 3.0  # triangles that span more pixels may reach a pixel far from their corners


@dataclass(frozen=True, eq=False)
class ScanOnChart:
    """A scan's triangles with the boxes of pixels that hold them, for one or more looks at its skin.

    Attributes
    ----------
    mesh : the scan, face frame, mm.
    chart : where to look.
    furthest_mm : triangles with a corner further from the centre than this are left out.
    pixel : (n, 2) row and column of every vertex, with fractions.
    faces : (m, 3) triangles that lie on the chart.
    low, high : (m, 2) pixel boxes that surely hold them.

    Build one with `scan_on_chart`.
    """

    mesh: TriMesh
    chart: RadialChart
    furthest_mm: float
    pixel: Floats
    faces: Ints
    low: Floats
    high: Floats

    def finer(self, times: int, near: Bools) -> ScanOnChart:
        """The same scan on a chart of ``times`` as many pixels a side, with the triangles near some pixels.

        Parameters
        ----------
        times : how many fine pixels a pixel's side is split into.
        near : (side, side) pixels of this chart round which the fine chart will be looked at.
        """
        chart = replace(self.chart, pitch_rad=self.chart.pitch_rad / times, half=self.chart.half * times)
        close = ndimage.binary_dilation(near, np.ones((3, 3), dtype=bool), iterations=int(_LARGE_PX) + 1)
        row, column = np.rint(self.pixel).clip(0, self.chart.side - 1).astype(np.int32).T
        size = self.high - self.low
        large = np.maximum(size[:, 0], size[:, 1]) > _LARGE_PX
        some = at_any_corner(close[row, column], self.faces) | large
        return replace(
            self,
            chart=chart,
            pixel=self.pixel * times,
            faces=self.faces[some],
            low=self.low[some] * times,
            high=self.high[some] * times,
        )

    def radii(self, wanted: Bools | None = None) -> Floats:
        """Radius of the outermost skin at pixels of the chart.

        Parameters
        ----------
        wanted : (side, side) pixels to look at; None takes all. Cost follows their number.

        Returns
        -------
        (side, side) mm; NaN where no ray meets the mesh, and where nothing is wanted.
        """
        chart = self.chart
        rays = np.arange(chart.side**2) if wanted is None else np.flatnonzero(wanted)
        slot = np.full(chart.side**2, -1, dtype=np.int32)
        slot[rays] = np.arange(len(rays), dtype=np.int32)
        found = np.full(len(rays), -np.inf)
        row, column = np.divmod(rays, chart.side)
        directions = chart.direction_at((np.stack([column, row], axis=1) - chart.half) * chart.pitch_rad)
        faces, low, size = self._boxes()
        if wanted is not None:
            near = _hold_wanted(wanted, low, size)
            faces, low, size = faces[near], low[near], size[near]
        planes, volume = _corner_planes(self.mesh.vertices - chart.centre, faces)
        for owner, target in _candidates(low, size, chart.side):
            ray = slot[target]
            if wanted is not None:
                owner, ray = owner[ray >= 0], ray[ray >= 0]
            along = directions[ray]
            one, two, three = (np.einsum("kj,kj->k", plane[owner], along) for plane in planes)
            total = one + two + three
            # Closed triangles: the slack lets no ray slip between neighbours.
            hit = (np.minimum(np.minimum(one, two), three) >= -1e-9 * total) & (total > 0)
            np.maximum.at(found, ray[hit], volume[owner[hit]] / total[hit])
        radii = np.full(chart.side**2, np.nan)
        radii[rays] = np.where(np.isinf(found), np.nan, found)
        return radii.reshape(chart.side, chart.side)

    def _boxes(self) -> tuple[Ints, NDArray[np.int64], NDArray[np.int64]]:
        """Triangles (k, 3) that may hold whole pixels; first pixels and sizes (k, 2) of their boxes."""
        last = self.chart.side - 1
        whole = ((self.high >= 0) & (self.low <= last)).T
        first = np.ceil(self.low).clip(0, last).astype(np.int64)
        size = np.floor(self.high).clip(0, last).astype(np.int64) - first + 1
        some = np.flatnonzero(whole[0] & whole[1] & (size[:, 0] > 0) & (size[:, 1] > 0))
        return self.faces[some], first[some], size[some]


def scan_on_chart(mesh: TriMesh, chart: RadialChart, furthest_mm: float) -> ScanOnChart:
    """Lay a scan on a chart.

    Parameters
    ----------
    mesh : in the face frame, mm.
    chart : where to look.
    furthest_mm : triangles with a corner further from the centre than this are left out.
    """
    pq, distance = chart.place_of(mesh.vertices)
    pixel = chart.pixels_of(pq)
    off = np.abs(pixel - chart.half)
    close = distance < furthest_mm
    # Behind the head the chart wraps round; such triangles are outside the mask region anyway.
    usable = (np.maximum(off[:, 0], off[:, 1]) <= chart.half + 2) & close
    usable &= np.einsum("ij,ij->i", pq, pq) < 2.6**2
    faces = mesh.faces[at_any_corner(usable, mesh.faces)]
    corners = [pixel[faces[:, corner]] for corner in range(3)]
    low = np.minimum(np.minimum(corners[0], corners[1]), corners[2])
    high = np.maximum(np.maximum(corners[0], corners[1]), corners[2])
    angle = np.maximum(high[:, 0] - low[:, 0], high[:, 1] - low[:, 1]) * chart.pitch_rad
    near = angle < 1.0
    for corner in range(3):
        near &= close[faces[:, corner]]
    # A great circle bulges from the straight line of the chart by less than (angle^2) / 4.
    bulge = (angle**2 / 4 / chart.pitch_rad + 1e-6)[:, None]
    return ScanOnChart(
        mesh, chart, furthest_mm, pixel, faces[near], (low - bulge)[near], (high + bulge)[near]
    )


def _corner_planes(vertices: Floats, faces: Ints) -> tuple[list[Floats], Floats]:
    """Three planes (m, 3) through the centre for each triangle, and six times the volume to it (m,).

    The weight of a corner along a ray d is d . (next x after next).
    """
    a, b, c = (vertices[faces[:, corner]] for corner in range(3))
    planes = [_cross(b, c), _cross(c, a), _cross(a, b)]
    volume = np.einsum("ij,ij->i", a, planes[0])
    # Seen from the inside the weights of a hit are negative; turning the planes makes one test of two.
    facing = np.where(volume < 0, -1.0, 1.0)[:, None]
    return [plane * facing for plane in planes], np.abs(volume)


def _cross(a: Floats, b: Floats) -> Floats:
    """Cross products of rows (m, 3); numpy.cross takes twice as long."""
    out = np.empty_like(a)
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        out[:, axis] = a[:, one] * b[:, two] - a[:, two] * b[:, one]
    return out


def _hold_wanted(wanted: Bools, low: NDArray[np.int64], size: NDArray[np.int64]) -> Bools:
    """Which boxes (n,) hold a wanted pixel, by a summed-area table."""
    table = np.zeros((wanted.shape[0] + 1, wanted.shape[1] + 1), dtype=np.int32)
    np.cumsum(wanted.cumsum(axis=0, dtype=np.int32), axis=1, out=table[1:, 1:])
    (row, column), (row_end, column_end) = low.T, (low + size).T
    inside = table[row_end, column_end] - table[row, column_end] - table[row_end, column] + table[row, column]
    return np.asarray(inside > 0)


def _candidates(
    low: NDArray[np.int64], size: NDArray[np.int64], side: int
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Pairs (triangle, flat pixel) of all boxes, in chunks."""
    counts = size[:, 0] * size[:, 1]
    start = 0
    ends = np.cumsum(counts)
    while start < len(counts):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + _CHUNK, side="right")), start + 1)
        owner = np.repeat(np.arange(start, stop), counts[start:stop])
        within = np.arange(len(owner)) - np.repeat(
            ends[start:stop] - counts[start:stop] - done, counts[start:stop]
        )
        down, right = np.divmod(within, size[owner, 1])
        yield owner, (low[owner, 0] + down) * side + low[owner, 1] + right
        start = stop

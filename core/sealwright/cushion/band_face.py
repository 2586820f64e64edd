"""The face of the hard band that a cushion lies on, as a grid on the finished body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..facepiece.contact_band import ContactBand, grid_normals
from ..mesh import Floats, TriMesh
from ..solids.distance import MeshDistance


@dataclass(frozen=True, eq=False)
class BandFace:
    """The contact rows of a band on the finished body: stations (n) by rows (k), outer edge first, mm.

    Attributes
    ----------
    grid : (n, k, 3) on the hard face, closed along its stations.
    across_mm : (k,) distance from the seal line; positive outside.
    """

    grid: Floats
    across_mm: Floats

    @property
    def normals(self) -> Floats:
        """Unit normals (n, k, 3), away from the skin."""
        return grid_normals(self.grid)

    @property
    def length_mm(self) -> float:
        """Length of the seal line on the hard face."""
        line = self.line
        return float(np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum())

    @property
    def line(self) -> Floats:
        """The seal line (n, 3) on the hard face, between the two rows beside it."""
        return between_rows(self.grid, self.across_mm, 0.0)

    @property
    def area_mm2(self) -> float:
        """Area of the face between its first and last row."""
        closed = np.concatenate([self.grid, self.grid[:1]])
        return float(triangle_areas(closed.reshape(-1, 3), grid_triangles(*closed.shape[:2])).sum())


def band_face_of(band: ContactBand, body: TriMesh | None = None) -> BandFace:
    """The face of a band's contact rows.

    Parameters
    ----------
    band : as designed.
    body : the finished body, whose nearest points are taken; None takes the band as designed.
    """
    rows = band.grid[:, band.contact]
    if body is not None:
        rows = MeshDistance(body).closest(rows.reshape(-1, 3))[2].reshape(rows.shape)
    return BandFace(rows, band.across_mm[band.contact])


def between_rows(grid: Floats, across_mm: Floats, at_mm: float) -> Floats:
    """Points (n, d) of a grid (n, k, d) at a distance from the seal line, straight between its rows."""
    rising = across_mm[::-1]
    place = len(rising) - 1 - np.interp(at_mm, rising, np.arange(len(rising)))
    low = min(int(place), grid.shape[1] - 2)
    share = place - low
    return np.asarray((1.0 - share) * grid[:, low] + share * grid[:, low + 1])


def grid_triangles(stations: int, rows: int) -> np.ndarray:
    """Triangles (2 (n - 1) (k - 1), 3) of an open grid, vertex = station * rows + row."""
    i, j = np.meshgrid(np.arange(stations - 1), np.arange(rows - 1), indexing="ij")
    a = (i * rows + j).ravel()
    b, c, d = a + rows, a + rows + 1, a + 1
    even = ((i + j) % 2 == 0).ravel()[:, None]
    one = np.where(even, np.stack([a, b, c], axis=1), np.stack([a, b, d], axis=1))
    two = np.where(even, np.stack([a, c, d], axis=1), np.stack([b, c, d], axis=1))
    return np.concatenate([one, two])


def triangle_areas(points: Floats, triangles: np.ndarray) -> Floats:
    """Areas (m,) of triangles of points (n, 2) or (n, 3), mm2."""
    p = points[triangles]
    one, two = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    cross = (one**2).sum(1) * (two**2).sum(1) - (one * two).sum(1) ** 2
    return np.asarray(0.5 * np.sqrt(np.maximum(cross, 0.0)))

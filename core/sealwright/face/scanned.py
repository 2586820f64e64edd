"""The scan itself near some points, to measure a finished part against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..mesh import Floats, TriMesh, at_all_corners, joined
from ..solids.distance import MeshDistance
from .quadtree import whole_squares
from .surface import FaceSurface, sheet_mesh

_NEAR_MM = 12.0  # skin further from the points than this is not measured


@dataclass(frozen=True, eq=False)
class SkinNear:
    """The scan's skin near a band, with its search tree: one for all checks.

    Attributes
    ----------
    mesh : triangles of the scan, and guessed skin, mm.
    distance : closest points on them.
    """

    mesh: TriMesh
    distance: MeshDistance

    def depth_of(self, points: Floats, below: Floats) -> Floats:
        """How deep (n,) points lie inside the skin, mm; 0 where they do not.

        Parameters
        ----------
        points : (n, 3) that lie below the sheet of skin.
        below : (n,) by how much along their rays: none is deeper.

        Below the sheet but outside the scan lies the air of an overhanging crease, as behind a nose wing: the
        side of the nearest skin decides, by the vertex normals of the nearest triangle.
        """
        nearest, triangle, closest = self.distance.closest(points)
        normals = self.mesh.vertex_normals[self.mesh.faces[triangle]].sum(axis=1)
        inside = ((points - closest) * normals).sum(axis=1) < 0
        return np.where(inside, np.minimum(nearest, below), 0.0)


def skin_near(face: FaceSurface, near: Floats) -> SkinNear:
    """The skin within about 12 mm of points (k, 3), mm, ready for measuring."""
    mesh = scanned_skin(face, near)
    return SkinNear(mesh, MeshDistance(mesh))


def scanned_skin(face: FaceSurface, near: Floats) -> TriMesh:
    """The scan's triangles within about 12 mm of some points (k, 3), with the guessed skin there.

    Without its scan (an analytic surface) the face surface stands for it.
    """
    if face.scan is None:
        return face.mesh
    marked = np.zeros(face.radii.shape, dtype=bool)
    rows, columns = _whole_pixels(face, face.chart.pixels_of(face.chart.place_of(near)[0]))
    marked[rows, columns] = True
    close = ndimage.distance_transform_edt(~marked) * face.pitch_mm <= _NEAR_MM
    row, column = _whole_pixels(face, face.scan.pixel)
    scan = at_all_corners(close[row, column], face.scan.mesh.faces)
    parts = [face.scan.mesh.submesh(scan)] if scan.any() else []
    guess = ndimage.binary_dilation(face.guessed) & close
    if whole_squares(guess).any():
        parts.append(sheet_mesh(face.points, np.asarray(guess)))
    return joined(*parts) if parts else face.mesh


def _whole_pixels(face: FaceSurface, pixel: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns (n,) of the nearest pixels to places (n, 2); those off the chart go to its border."""
    row, column = np.rint(pixel).clip(0, face.chart.side - 1).astype(np.int64).T
    return row, column

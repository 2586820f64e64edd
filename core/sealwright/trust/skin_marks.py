"""What was changed on the skin, where and by how much, for colouring the prepared face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..designing.prepared import Prepared
from ..mesh import Bools, Floats, TriMesh
from .measures import repaired_spots

_SPOT_MM = 1.5  # a pulled-back spike marks the pixels so near to it: two pixels


@dataclass(frozen=True, eq=False)
class SkinMarks:
    """Marks on the vertices of the prepared face, one value each.

    Attributes
    ----------
    mesh : the prepared skin, face frame, mm.
    moved_mm : (n,) how far the smoothing moved the skin, outward positive.
    guessed : (n,) filled, not scanned.
    repaired : (n,) where a spike of the scan was pulled back.
    """

    mesh: TriMesh
    moved_mm: Floats
    guessed: Bools
    repaired: Bools

    @property
    def kind(self) -> Floats:
        """One number (n,) for a colour map: 0 as scanned, 1 smoothed, 2 repaired, 3 guessed."""
        kind = np.where(np.abs(self.moved_mm) > 0.0, 1.0, 0.0)
        return np.where(self.guessed, 3.0, np.where(self.repaired, 2.0, kind))


def skin_marks(prepared: Prepared) -> SkinMarks:
    """The marks of a prepared scan."""
    face = prepared.face
    mesh = face.mesh
    pixel = np.rint(face.chart.pixels_of(face.chart.place_of(mesh.vertices)[0])).astype(np.int64)
    row, column = pixel.T
    spots = repaired_spots(prepared)
    near = np.zeros(len(mesh.vertices), dtype=bool)
    if len(spots):
        near = cKDTree(spots).query(mesh.vertices)[0] < _SPOT_MM
    return SkinMarks(mesh, face.smoothing.moved_mm[row, column], face.guessed[row, column], near)

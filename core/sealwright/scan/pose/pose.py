"""The approximate pose of a face in a scan."""

from __future__ import annotations

from dataclasses import dataclass

from ...errors import Remark
from ...mesh import Bools, Floats, TriMesh


@dataclass(frozen=True, eq=False)
class Pose:
    """Where the face lies in a scan.

    Attributes
    ----------
    scan_to_face : (4, 4) rotation and translation, scan mm to approximate face frame mm.
    size : size of this face over the generic one (about 0.7 for a small child to 1.25).
    confidence : 0..1.
    faces_inward : the triangles of the face are wound towards the inside of the head.
    likeness, misfit_mm, coverage, asymmetry_mm : what the confidence rests on.
    reasons : sentences that explain a low confidence.
    remarks : what the maker should know.
    apart : (m,) triangles of other things that hide the face; None where there are none.
    """

    scan_to_face: Floats
    size: float
    confidence: float
    faces_inward: bool
    likeness: float
    misfit_mm: float
    coverage: float
    asymmetry_mm: float
    reasons: tuple[str, ...]
    remarks: tuple[Remark, ...]
    apart: Bools | None = None


def outward(mesh: TriMesh, pose: Pose) -> TriMesh:
    """The face of a scan, facing out, without things that hide it; ``pose`` is of the mesh as it was."""
    mesh = mesh if pose.apart is None else mesh.submesh(~pose.apart)
    return mesh.flipped() if pose.faces_inward else mesh

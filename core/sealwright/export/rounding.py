"""A copy of a part whose vertices survive being stored as 32-bit numbers."""

from __future__ import annotations

import numpy as np

from ..errors import BadSolid, DesignError, Where, first_point
from ..mesh import Floats, TriMesh
from ..solids.boolean import solid_of
from ..solids.soundness import Soundness, soundness_of

# Tries, mm: the spacing of float32 numbers at 100 mm is 7.6e-6; the last is still far under what prints.
_TOLERANCES_MM = (2e-5, 1e-4, 5e-4)


def rounded_part(mesh: TriMesh, role: str) -> TriMesh:
    """The part with vertices rounded to float32, still closed, 2-manifold and of the same genus.

    Vertices that fall together are welded and the triangles between them dropped. Where that is not
    enough (a needle turns flat), the solid modeller first removes details under a few hundred-thousandths
    of a millimetre.

    Parameters
    ----------
    mesh : closed part, mm.
    role : what it is, in the maker's words.

    Returns
    -------
    Mesh whose float64 coordinates are float32 numbers, so what is checked is what is stored.

    Raises
    ------
    BadSolid : the part is open or no 2-manifold at first, or surfaces closer than a float32 step touch.
    """
    before = soundness_of(mesh, role, look_for_crossings=False)
    if before.genus is None or before.inconsistent_edges or before.volume_mm3 <= 0:
        raise _refusal(before, "")
    for tolerance in (0.0, *_TOLERANCES_MM):
        part = _welded(_simplified(mesh, role, tolerance))
        after = soundness_of(part, role, before.genus, look_for_crossings=False)
        if after.pieces == before.pieces and not after.faults:
            return part
    raise _refusal(after, " after rounding to the 32-bit numbers of the file")


def _simplified(mesh: TriMesh, role: str, tolerance_mm: float) -> TriMesh:
    if tolerance_mm == 0.0:
        return mesh
    solid = solid_of(mesh, role)
    raw = solid.native.set_tolerance(tolerance_mm).simplify(tolerance_mm).to_mesh64()
    vertices: Floats = np.array(raw.vert_properties[:, :3], dtype=np.float64)
    return TriMesh(vertices, np.array(raw.tri_verts, dtype=np.int32))


def _welded(mesh: TriMesh) -> TriMesh:
    """Vertices rounded to float32, equal ones joined, triangles that lost a corner dropped."""
    # Adding zero turns -0.0 into 0.0, so that equal points have equal bytes.
    rounded = mesh.vertices.astype(np.float32).astype(np.float64) + 0.0
    order = np.lexsort(rounded.T)
    new = np.concatenate([[True], (rounded[order[1:]] != rounded[order[:-1]]).any(axis=1)])
    if new.all():
        return TriMesh(rounded, mesh.faces)
    number = np.empty(len(order), dtype=np.int32)
    number[order] = np.cumsum(new) - 1
    faces = number[mesh.faces]
    distinct = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    return TriMesh(rounded[order[new]], faces[distinct])


def _refusal(found: Soundness, when: str) -> DesignError:
    faults = ", ".join(found.faults) or f"{found.pieces} pieces"
    return BadSolid(
        f"The {found.role} cannot be stored as a closed solid{when}: it has {faults}.",
        Where(found.role, point=first_point(found.places_mm)),
        "Move the surfaces that nearly touch there apart by at least 0.01 mm, or undo the last hand edit.",
    )

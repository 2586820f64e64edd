"""Binary STL: an 80-byte header, a count, 50 bytes a triangle (de facto format, standards: from memory)."""

from __future__ import annotations

import numpy as np

from ..mesh import TriMesh
from .rounding import rounded_part

# Must not start with "solid", which readers take for the text form; the unit is a hint, STL has none.
_HEADER = b"binary STL, unit mm, made by Sealwright"
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: TriMesh, role: str) -> bytes:
    """A closed part as binary STL.

    Parameters
    ----------
    mesh : the part, mm.
    role : what it is, in the maker's words.

    Returns
    -------
    84 + 50 m bytes, the same for the same mesh.

    Raises
    ------
    BadSolid : the part is not closed, or rounding to float32 would open or pinch it.
    """
    part = rounded_part(mesh, role)
    records = np.zeros(len(part.faces), dtype=_RECORD)
    records["normal"] = part.face_normals
    records["corners"] = part.corners
    return b"".join([_HEADER.ljust(80), len(records).to_bytes(4, "little"), records.tobytes()])

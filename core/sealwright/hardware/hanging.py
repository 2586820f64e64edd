"""What hangs on the face: mass, middle, lever about the nose bridge, and what it hides from the eyes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats, TriMesh
from ..solids.boolean import Solid

GRAVITY_M_S2 = 9.81
_BEFORE_MM = 5.0  # what lies less far before the eye hides nothing: it is beside it


@dataclass(frozen=True, eq=False, kw_only=True)
class Hanging:
    """Masses in the face frame, head upright.

    Attributes
    ----------
    mass_g : of all parts.
    middle : (3,) centre of mass, mm.
    moment_nose_bridge_nmm : weight times its lever, the way forward from the nose bridge, N mm.
    """

    mass_g: float
    middle: Floats
    moment_nose_bridge_nmm: float


def hanging(parts: Iterable[tuple[Solid, float]], sellion: Floats) -> Hanging:
    """Mass, middle and lever of parts (solid, g).

    Raises
    ------
    ValueError : no parts, or none with mass.
    """
    rows = [(grams, centroid(solid.mesh)) for solid, grams in parts]
    mass = sum(grams for grams, _ in rows)
    if mass <= 0.0:
        raise ValueError("Nothing hangs.")
    middle = np.sum([grams * at for grams, at in rows], axis=0) / mass
    lever = float(sellion[1] - middle[1])  # -Y is out of the face
    return Hanging(mass_g=mass, middle=middle, moment_nose_bridge_nmm=1e-3 * mass * GRAVITY_M_S2 * lever)


def centroid(mesh: TriMesh) -> Floats:
    """Centre of mass (3,) of a closed mesh of even density: tetrahedra from the origin to its triangles."""
    corners = mesh.corners
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    return np.asarray(volume @ corners.sum(axis=1) / (4.0 * volume.sum()))


def sight_below_deg(meshes: Iterable[TriMesh], eye: Floats) -> float:
    """Lowest line of sight straight ahead, degrees below the horizontal; 90 when nothing is in the way.

    In the upright plane ahead of the eye (3,): the highest place where an edge of a part meets that plane.
    """
    least = 90.0
    for mesh in meshes:
        corners = mesh.corners
        start, end = corners, np.roll(corners, -1, axis=1)
        side, after = start[..., 0] - eye[0], end[..., 0] - eye[0]
        meets = side * after < 0.0
        if not meets.any():
            continue
        share = (side / np.where(meets, side - after, 1.0))[meets][:, None]
        at = start[meets] + share * (end[meets] - start[meets])
        ahead, below = eye[1] - at[:, 1], eye[2] - at[:, 2]
        seen = ahead > _BEFORE_MM
        if seen.any():
            least = min(least, float(np.degrees(np.arctan2(below[seen], ahead[seen])).min()))
    return least

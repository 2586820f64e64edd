"""A printed soft liner that keys into the hard band: a dovetail ridge, and the groove for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..facepiece.contact_band import grid_normals
from ..facepiece.shell import closed_profile
from ..mesh import Floats
from ..solids.boolean import Solid, difference, main_piece, solid_of, union
from ..solids.crossings import uncrossed
from .lip import Lip

_NECK_MM, _BASE_MM = 3.6, 4.8  # width of the ridge at the face and at its end
_DEPTH_SHARE, _DEEPEST_MM = 0.45, 1.2  # of the band's thickness: what is left carries and seals
_GAP_MM = 0.15  # of the groove on every side: soft parts are pushed in (common practice, no source)
_ROOT_MM = 0.6  # of the ridge in the liner, and of the groove above the face


@dataclass(frozen=True, eq=False)
class Liner:
    """A liner and the body with its groove.

    Attributes
    ----------
    liner, body : in the face frame, mm.
    depth_mm : of the groove.
    """

    liner: Solid
    body: Solid
    depth_mm: float


def liner_of(lip: Lip, body: Solid, band_mm: float) -> Liner:
    """The liner of a lip's shape with a ridge amid the band, and the body with the groove for it.

    Parameters
    ----------
    lip : its shape.
    body : the finished body.
    band_mm : thickness of the hard band.

    Raises
    ------
    BadSolid, BooleanFailed : ridge or groove cross themselves, or do not meet the parts.
    """
    depth = min(_DEPTH_SHARE * band_mm, _DEEPEST_MM)
    plain = solid_of(lip.mesh, "liner")
    ridge = _keyed(lip, (_NECK_MM, _BASE_MM), depth, "ridge")
    wider = (_NECK_MM + 2.0 * _GAP_MM, _BASE_MM + 2.0 * _GAP_MM)
    groove = _keyed(lip, wider, depth + _GAP_MM, "groove")
    liner = main_piece(union("liner", plain, ridge))
    grooved = main_piece(difference("body", body, groove))
    return Liner(uncrossed(liner), uncrossed(grooved), depth)


def _keyed(lip: Lip, widths: tuple[float, float], depth: float, role: str) -> Solid:
    """A dovetail along the middle of the band, from within the liner up into the hard band."""
    normals = grid_normals(lip.hard, 2.0)
    middle = lip.hard.shape[1] // 2
    line, up = lip.hard[:, middle], normals[:, middle]
    out = lip.hard[:, 0] - lip.hard[:, -1]
    out = out - (out * up).sum(axis=1, keepdims=True) * up
    out = out / np.linalg.norm(out, axis=1, keepdims=True)
    neck, base = widths
    root = neck - (base - neck) * _ROOT_MM / depth
    corners = ((root, -_ROOT_MM), (base, depth))
    loop: list[Floats] = []
    for width, height in corners:
        loop.append(line + 0.5 * width * out + height * up)
    for width, height in corners[::-1]:
        loop.append(line - 0.5 * width * out + height * up)
    return solid_of(closed_profile(np.stack(loop, axis=1)), role)

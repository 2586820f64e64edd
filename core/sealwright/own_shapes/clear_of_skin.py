"""Trimming by the skin until nothing enters it: where rays graze the skin, its sheet cuts corners."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage

from ..errors import DoesNotFit, Where, plain_point
from ..face.face_solid import face_solid
from ..face.scanned import skin_near
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..solids.boolean import Solid, difference, pieces, shared_volume

_MERGE_MM = 1e-6
_ROUNDS = 3
_CRUMB = 0.02  # of the volume: what a fold of skin may cut off
_ENOUGH_MM = 0.03  # deepest entry that is left; the limit is 0.05 mm
_LIFTED = 1.3  # times the entry, since it is told at the corners of triangles only
_LEAST_SLANT = 0.3
_ABOUT_PX = 2  # pixels round a place that enters which are lifted with it


def trimmed_clear(
    blank: Solid, face: FaceSurface, near: Floats, stand_off: StandOff, skin: Solid | None = None
) -> tuple[Solid, Solid, StandOff]:
    """A blank minus the skin, in one piece, entering the scan nowhere by more than a print can show.

    Parameters
    ----------
    blank : reaches below the skin.
    face : the skin, mm.
    near : (k, 3) places under the blank.
    stand_off : distance that is kept from the skin.
    skin : the face as a solid at the stand-off round these places, where it is there already.

    Returns
    -------
    The trimmed solid, the skin that trimmed it, and the stand-off with what was lifted.

    Raises
    ------
    DoesNotFit : nothing is left, or the skin cuts it into pieces.
    """
    for left in range(_ROUNDS, -1, -1):
        head = skin or face_solid(face, near, stand_off)
        made = _one_piece(blank, head)
        lift = _lift(face, made.mesh.vertices, stand_off) if left else None
        if lift is None:
            break
        rounded = np.zeros_like(lift) if stand_off.rounded_mm is None else stand_off.rounded_mm
        stand_off, skin = replace(stand_off, rounded_mm=rounded + lift), None
    return made, head, stand_off


def _one_piece(blank: Solid, skin: Solid) -> Solid:
    """A blank minus the skin, without crumbs that folds cut off.

    Raises
    ------
    DoesNotFit : see `trimmed_clear`.
    """
    left = blank.volume - shared_volume(blank, skin)
    if left < _CRUMB * blank.volume:
        raise DoesNotFit(
            f"Nothing of the {blank.role} is left before the skin.",
            Where(blank.role, point=plain_point(blank.mesh.vertices[0])),
            "Move it out, or give it more stand-off.",
        )
    parts = pieces(difference(blank.role, blank, skin).without_slivers(_MERGE_MM))
    if sum(part.volume for part in parts[1:]) > _CRUMB * left:
        raise DoesNotFit(
            f"The skin cuts the {blank.role} into {len(parts)} pieces, one of {parts[1].volume:.0f} mm3.",
            Where(blank.role, point=plain_point(parts[1].mesh.vertices[0])),
            "Join them outside of the skin, or move it so that one piece is left.",
        )
    return parts[0].named(blank.role)


def _lift(face: FaceSurface, points: Floats, stand_off: StandOff) -> Floats | None:
    """How far (h, w) along the rays the skin must be lifted for points (n, 3); None where none enters."""
    pq, radius = face.chart.place_of(points)
    height = radius - face.radius_at(pq)
    suspects = np.flatnonzero((height < -_ENOUGH_MM) & face.is_known(pq))
    if len(suspects) == 0:
        return None
    skin = skin_near(face, points[suspects])
    depth = skin.depth_of(points[suspects], -height[suspects])
    depth += np.minimum(stand_off.at(face.chart, pq[suspects]), 0.0)
    deep, depth = suspects[depth > _ENOUGH_MM], depth[depth > _ENOUGH_MM]
    if len(deep) == 0:
        return None
    cosine = (face.chart.direction_at(pq[deep]) * face.normal_at(pq[deep])).sum(axis=1)
    lifted = np.minimum(_LIFTED * depth / np.clip(cosine, _LEAST_SLANT, 1.0), -height[deep])
    lift = np.zeros(face.radii.shape)
    row, column = np.rint(face.chart.pixels_of(pq[deep])).astype(np.int64).clip(0, face.chart.side - 1).T
    np.maximum.at(lift, (row, column), lifted)
    return np.asarray(ndimage.maximum_filter(lift, 2 * _ABOUT_PX + 1))

# SPDX-License-Identifier: GPL-3.0-or-later
"""The face surface as an object: what was changed on the skin, where and by how much, as colours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..model.fingerprint import inputs_print
from ..model.placing import face_to_world
from ..model.trust_rows import skin_stamp
from ..model.wearers import tagged, wearer_mm
from .commit import (
    FROM,
    Part,
    commit_parts,
    edited_by_hand,
    remove_object,
    set_aside,
)
from .legend import MapLegend
from .maps import LIFT_MM

if TYPE_CHECKING:
    import bpy

    from ..core.designing.prepared import Prepared
    from ..model.wearers import SEALWRIGHT_PG_wearer

TAG_SKIN = "skin:changes"
OF_FACE = "sealwright_face"  # stamp of the prepared face that the object shows
SMALLEST_MM = 0.05  # top of the scale on skin that was not smoothed
# What has no amount gets a colour of its own; a pulled-back spike is a round spot, a filled hole an area.
CLASSES = ("guessed: filled, not scanned", "spike pulled back")


def skin_part(prepared: Prepared) -> Part:
    """The prepared skin with the distance that smoothing moved it, and its guessed and repaired places."""
    from ..core.trust.skin_marks import skin_marks

    marks = skin_marks(prepared)
    bound = prepared.face.smoothing.bound_mm
    legend = MapLegend(
        "skin",
        "Skin moved by smoothing",
        "mm",
        0.0,
        max(bound, SMALLEST_MM),
        bound,
        "hard bound" if bound else "not smoothed",
        "|".join(CLASSES),
    )
    place = prepared.face.chart.place_of(marks.mesh.vertices)[0]
    lifted = marks.mesh.vertices + LIFT_MM * prepared.face.normal_at(place)
    kind = np.where(marks.guessed, 1, np.where(marks.repaired, 2, 0))
    moved = np.where(marks.guessed, 0.0, np.abs(marks.moved_mm))
    return Part(TAG_SKIN, "skin changes", lifted, marks.mesh.faces, moved, legend, classes=kind)


def commit_skin(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, prepared: Prepared
) -> bpy.types.Object:
    """The object with the map of a prepared face, made when it is not there yet."""
    obj = skin_object(wearer)
    if obj is not None and obj.get(OF_FACE) == skin_stamp(prepared):  # type: ignore[no-untyped-call]
        obj.data[FROM] = inputs_print(context, wearer)  # type: ignore[index]
        return obj
    matrix = face_to_world(prepared.scan_to_design, wearer_mm(context, wearer))
    commit_parts(context, wearer, [skin_part(prepared)], matrix, inputs_print(context, wearer))
    obj = skin_object(wearer)
    assert obj is not None
    obj[OF_FACE] = skin_stamp(prepared)
    return obj


def skin_object(wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The object with the map of the skin, or None."""
    return next((obj for tag, obj in tagged(wearer, "") if tag == TAG_SKIN), None)


def drop_old_skin(wearer: SEALWRIGHT_PG_wearer, prepared: Prepared) -> None:
    """Remove the map of a face that was prepared anew since (one that was edited by hand is set aside)."""
    obj = skin_object(wearer)
    if obj is None or obj.get(OF_FACE) == skin_stamp(prepared):  # type: ignore[no-untyped-call]
        return
    if edited_by_hand(obj):
        set_aside(obj)
    else:
        remove_object(obj)

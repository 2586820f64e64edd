# SPDX-License-Identifier: GPL-3.0-or-later
"""The cage of a chamber in the file: a mesh of quads that is linked to its wearer and shaped by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..model import cache
from ..model.convert import CORNERS, corners_stamp, store_vectors
from ..model.fingerprint import inputs_print
from ..model.own_objects import CAGE_TAG, GRID, OUT
from ..model.quiet import quiet
from ..model.wearers import tagged, wearer_mm
from ..view.commit import Part, commit_parts
from .output import part_matrix
from .stages import commit_face

if TYPE_CHECKING:
    import bpy

    from ..core.designing.prepared import Prepared
    from ..core.facepiece.chamber_cage import Cage
    from ..model.wearers import SEALWRIGHT_PG_wearer


def commit_cage(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, prepared: Prepared, cage: Cage
) -> list[str]:
    """Write a cage, link and select it; names of an earlier one that a hand had changed and that is kept.

    Raises
    ------
    InEditMode : the cage that stands is being edited.
    """
    assert context.view_layer is not None
    place = part_matrix(prepared, wearer_mm(context, wearer))
    made = Part(CAGE_TAG, "chamber cage", cage.points.reshape(-1, 3), cage.quads)
    kept = commit_parts(context, wearer, [made], place, inputs_print(context, wearer))
    commit_face(context, wearer, prepared)
    obj = dict(tagged(wearer, ""))[CAGE_TAG]
    data: Any = obj.data
    store_vectors(data, OUT, cage.out.reshape(-1, 3))
    data[GRID], data[CORNERS] = list(cage.points.shape[:2]), corners_stamp(data)
    obj.show_wire = True
    with quiet():
        wearer.cage = obj
    cache.touch()
    for other in context.view_layer.objects:
        other.select_set(other == obj)
    context.view_layer.objects.active = obj
    return kept

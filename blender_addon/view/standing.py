# SPDX-License-Identifier: GPL-3.0-or-later
"""What stands in the file for a wearer, preview or parts: whether it is still true, whole, and unedited."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..model.convert import geometry_stamp, matrix_array
from ..model.fingerprint import changes, inputs_print, without_line
from ..model.seal_curve import own_points, seal_object
from ..model.wearers import tagged
from ..model.words import told
from .commit import FROM, PLACE, STAMP

if TYPE_CHECKING:
    import bpy

    from ..model.wearers import SEALWRIGHT_PG_wearer

PREVIEW, PART = "preview", "part:"
STILL = 1e-5  # of a matrix, in units and as a share: single precision of a place a hundred units away


def standing_tags(wearer: SEALWRIGHT_PG_wearer) -> tuple[str, ...]:
    """Tags of what should stand: the preview, or every part that was built last."""
    if wearer.quality == "PREVIEW":
        return (PREVIEW,)
    names = wearer.parts.split("|") if wearer.quality == "FINAL" and wearer.parts else ()
    return tuple(PART + name for name in names)


def why_stale(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> tuple[str, ...]:
    """Why what stands is not what the inputs give now, in words; empty when it is, or nothing stands."""
    now, found = inputs_print(context, wearer), objects_of(wearer)
    said: dict[str, None] = {}
    for tag in standing_tags(wearer):
        objects = found.get(tag, [])
        name = tag.removeprefix(PART).replace("-", " ")
        if not objects:
            said[told("The {part} was deleted", part=name)] = None
        elif len(objects) > 1:
            said[told("There are {count} objects of the {part}", count=len(objects), part=name)] = None
        else:
            said |= dict.fromkeys(map(told, changes(made_from(objects[0]), now)))
    return tuple(said)


def stale(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether something stands that is not what the inputs give now."""
    return bool(why_stale(context, wearer))


def parts_stale(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """That what stands is out of date, and why, as a sentence; nothing while it is true."""
    why = why_stale(context, wearer)
    if not why:
        return ""
    said = "; ".join(why)
    if wearer.quality == "PREVIEW":
        return told("{why} since the preview was made: preview again (Body panel).", why=said)
    return told("{why} since the parts were built: build again (Body panel).", why=said)


def checks_current(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether checks and remarks speak of what the inputs give now."""
    return bool(wearer.checks_from) and wearer.checks_from == inputs_print(context, wearer)


def choices_current(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether the designs to choose from are of the values as they are, or one of them was taken since."""
    now = inputs_print(context, wearer)
    return bool(len(wearer.choices)) and now in (wearer.choices_from, wearer.choice_taken)


def line_current(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether the line is the maker's own, or the one that the inputs propose now."""
    obj = seal_object(context, wearer)
    if obj is None or obj.data is None:
        return False
    if own_points(context, wearer) is not None:
        return True
    return bool(obj.data.get(FROM) == without_line(inputs_print(context, wearer)))


def made_from(obj: bpy.types.Object) -> str:
    """The print of what an object of ours was made from."""
    return str(obj.data.get(FROM, "")) if obj.data is not None else ""


def objects_of(wearer: SEALWRIGHT_PG_wearer) -> dict[str, list[bpy.types.Object]]:
    """Tag -> objects that carry it; a copy of an object carries its tag too."""
    found: dict[str, list[bpy.types.Object]] = {}
    for tag, obj in tagged(wearer, ""):
        found.setdefault(tag, []).append(obj)
    return found


def edited_parts(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> tuple[str, ...]:
    """Names of the standing parts whose shape or place a hand has changed, also by a modifier."""
    found, graph = objects_of(wearer), context.evaluated_depsgraph_get()
    return tuple(
        tag.removeprefix(PART)
        for tag in standing_tags(wearer)
        if tag.startswith(PART) and any(is_edited(obj, graph) for obj in found.get(tag, ()))
    )


def is_edited(obj: bpy.types.Object, graph: bpy.types.Depsgraph) -> bool:
    """Whether a part, as it is seen, is not as it was written."""
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    seen = obj.evaluated_get(graph)
    data = obj.data
    if data is None or data.get(STAMP) is None:
        return True
    shape = seen.data if obj.modifiers else data
    place = np.array(data.get(PLACE, ()), dtype=np.float64)
    now = matrix_array(seen.matrix_world).ravel()
    moved = len(place) != 16 or np.abs(now - place).max() > STILL * max(1.0, np.abs(place).max())
    return bool(moved or geometry_stamp(shape) != data[STAMP])  # type: ignore[arg-type]

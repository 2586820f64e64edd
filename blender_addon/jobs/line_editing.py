# SPDX-License-Identifier: GPL-3.0-or-later
"""Edit mode of a line on the skin: what lies over the skin is hidden, and all is put back afterwards."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import bpy

from ..model.own_objects import edited_line
from ..model.wearers import active_wearer, tagged
from . import live
from .output import SHOWN

if TYPE_CHECKING:
    from ..model.wearers import SEALWRIGHT_PG_wearer

SNAPPING: dict[str, Any] = {
    "use_snap": True,
    "snap_elements": {"FACE"},
    "use_snap_self": False,
    "use_snap_edit": False,
    "use_snap_nonedit": True,
    "use_snap_selectable": True,
}
"""Tool settings by which a dragged point stays on the skin: all that can be selected is the scan."""

SURFACES = {"MESH", "CURVE", "SURFACE", "FONT", "META", "CURVES", "GREASEPENCIL"}


@dataclass(frozen=True)
class Before:
    """What is put back: tool settings, tags of what was shown, names of what could be selected.

    ``editing`` says that edit mode is on, whose end puts back.
    """

    number: int
    settings: dict[str, Any]
    shown: tuple[str, ...]
    held: tuple[str, ...]
    editing: bool


_before: list[Before] = []


def begin(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, editing: bool = True) -> None:
    """Hide what lies over the skin, and let points snap to the scan alone."""
    assert context.scene is not None and context.view_layer is not None
    tools: Any = context.scene.tool_settings
    seen = context.view_layer.objects
    over = [(tag, obj) for tag, obj in tagged(wearer, "") if tag.startswith(SHOWN) and obj.name in seen]
    shown = tuple(tag for tag, obj in over if not obj.hide_get())
    others = [o for o in seen if o.type in SURFACES and o not in (wearer.scan, edited_line(context, wearer))]
    held = tuple(obj.name for obj in others if not obj.hide_select)
    if _before:  # pressed again while it lasts: what was before is known
        _before[0] = replace(_before[0], editing=editing)
    else:
        settings = {name: getattr(tools, name) for name in SNAPPING}
        _before.append(Before(wearer.number, settings, shown, held, editing))
    for obj in others:
        obj.hide_select = True
    for _, obj in over:
        obj.hide_set(True)
    _lift(context, wearer, True)
    for name, value in SNAPPING.items():
        setattr(tools, name, value)


def enter(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, obj: bpy.types.Object) -> None:
    """Edit mode on a line, with the skin alone to snap to."""
    assert context.view_layer is not None
    if context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for other in context.view_layer.objects:
        other.select_set(other == obj)
    context.view_layer.objects.active = obj
    begin(context, wearer)
    bpy.ops.object.mode_set(mode="EDIT")


def ended(context: bpy.types.Context) -> bool:
    """Whether edit mode was left since `begin`."""
    wearer = active_wearer(context)
    obj = edited_line(context, wearer) if wearer else None
    return bool(_before) and _before[0].editing and (obj is None or obj.mode != "EDIT")


def put_back() -> None:
    """Put back what `begin` changed; a preview that stood follows the line."""
    context = bpy.context
    wearer = active_wearer(context)
    if not _before or context.scene is None or context.view_layer is None:
        return
    before = _before.pop()
    for name, value in before.settings.items():
        setattr(context.scene.tool_settings, name, value)
    for name in before.held:
        held: Any = context.scene.objects.get(name)
        if held is not None:
            held.hide_select = False
    if wearer is None or wearer.number != before.number:
        return
    for tag, obj in tagged(wearer, ""):
        if tag in before.shown and obj.name in context.view_layer.objects:
            obj.hide_set(False)
    _lift(context, wearer, False)
    live.follow_soon()


def _lift(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, lifted: bool) -> None:
    """Draw the line's own curve in front of the skin while it is edited; else parts hide it."""
    obj = edited_line(context, wearer)
    if obj is not None:
        obj.show_in_front = lifted


def watch(context: bpy.types.Context) -> None:
    """After a change in the scene: put back when edit mode was left, once the change is done with."""
    if ended(context) and not bpy.app.background and not bpy.app.timers.is_registered(put_back):
        bpy.app.timers.register(put_back, first_interval=0.01)


def forget() -> None:
    """Another file: its settings are its own."""
    _before.clear()

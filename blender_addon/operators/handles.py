# SPDX-License-Identifier: GPL-3.0-or-later
"""A value of the recipe dragged by its handle in the view; undone as one step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import FloatProperty, StringProperty

from ..jobs.handle_step import HandleStep
from ..jobs.state import need_face
from ..model.words import told
from ..view.handles import spoken


class SEALWRIGHT_OT_move_handle(HandleStep, bpy.types.Operator):
    """Drag to change the value; the preview follows. Esc puts it back"""

    bl_idname = "sealwright.move_handle"
    bl_label = "Move Handle"
    bl_options = {"REGISTER", "UNDO", "INTERNAL"}

    if not TYPE_CHECKING:  # declared in the mixin
        key: StringProperty(name="Value", options={"HIDDEN"})
        value: FloatProperty(name="To", options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """What the handle moves, in the tooltip."""
        return told("{value}. Drag it; the preview follows. Esc puts it back", value=spoken(properties.key))

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A found face is needed."""
        return need_face(context)


CLASSES = (SEALWRIGHT_OT_move_handle,)

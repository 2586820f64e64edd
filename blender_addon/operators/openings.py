# SPDX-License-Identifier: GPL-3.0-or-later
"""Openings of a shell that lie by landmarks, and its pairs of strap slots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import EnumProperty, IntProperty

from ..jobs.live import value_changed
from ..jobs.state import need_shell
from ..model.props import defaults, from_data, read_fields
from ..model.quiet import quiet
from ..model.wearers import gather_wearer
from ..view.messages import Step, not_in_list

KINDS = (
    ("holes", "Opening", "Leaves eyes, nostrils or mouth free, by the landmarks"),
    ("slots", "Strap Slots", "A pair of slots, one on either side"),
)


def rows_of(context: bpy.types.Context, kind: str) -> tuple[Any, Any]:
    """The wearer's rows of a kind, and the fields of one."""
    (shell,) = (field for field in read_fields() if field["name"] == "shell")
    (field,) = (field for field in shell["fields"] if field["name"] == kind)
    return getattr(gather_wearer(context).recipe.shell, kind), field["fields"]


class SEALWRIGHT_OT_add_opening(Step, bpy.types.Operator):
    """Add an opening or a pair of strap slots to the shell, with the usual sizes"""

    bl_idname = "sealwright.add_opening"
    bl_label = "Add Opening"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        kind: str
    else:
        kind: EnumProperty(name="Kind", items=KINDS)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shell is needed."""
        return need_shell(context)

    def run(self, context: bpy.types.Context) -> str:
        """Add a row."""
        rows, fields = rows_of(context, self.kind)
        with quiet():
            from_data(rows.add(), defaults(fields), fields)
        value_changed(None, context)
        return "Set its sizes below, then build all parts."


class SEALWRIGHT_OT_remove_opening(Step, bpy.types.Operator):
    """Remove this opening or pair of slots from the shell"""

    bl_idname = "sealwright.remove_opening"
    bl_label = "Remove Opening"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        kind: str
        index: int
    else:
        kind: EnumProperty(name="Kind", items=KINDS)
        index: IntProperty(name="Number", min=0)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shell is needed."""
        return need_shell(context)

    def run(self, context: bpy.types.Context) -> str:
        """Remove the row."""
        rows, _ = rows_of(context, self.kind)
        if self.index >= len(rows):
            raise not_in_list("opening", self.index)
        rows.remove(self.index)
        value_changed(None, context)
        return f"{len(rows)} are left."


CLASSES = (SEALWRIGHT_OT_add_opening, SEALWRIGHT_OT_remove_opening)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Trust in the scan: the place of a sector of the seal line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import IntProperty

from ..jobs.state import need_line
from ..model.wearers import gather_wearer
from .problem import frame_place


class SEALWRIGHT_OT_show_sector(bpy.types.Operator):
    """Turn the view to this sector of the seal line and put the 3D cursor there"""

    bl_idname = "sealwright.show_sector"
    bl_label = "Show Sector"
    bl_options = {"REGISTER"}

    if TYPE_CHECKING:
        index: int
    else:
        index: IntProperty(min=0, options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """A seal line is needed."""
        reason = need_line(context)
        if reason:
            cls.poll_message_set(reason)
        return not reason

    def execute(self, context: bpy.types.Context) -> set[Any]:
        """Frame the place."""
        wearer = gather_wearer(context)
        if self.index >= len(wearer.sectors):
            self.report({"WARNING"}, "The skin under the seal line was not judged yet.")
            return {"CANCELLED"}
        point = wearer.sectors[self.index].point
        frame_place(context, (point[0], point[1], point[2]))
        return {"FINISHED"}


CLASSES = (SEALWRIGHT_OT_show_sector,)

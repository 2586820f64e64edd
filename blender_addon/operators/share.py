# SPDX-License-Identifier: GPL-3.0-or-later
"""Share: a scene with the recipe and the skin under the mask, for another maker."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy

from ..jobs.job import JobStep
from ..jobs.share import free_name, shared_bytes
from ..jobs.stages import design_steps
from ..jobs.state import need_sharing
from ..model.naming import file_name
from ..model.wearers import gather_wearer, scene_state
from .export import export_folder

if TYPE_CHECKING:
    from ..jobs.job import Steps


class SEALWRIGHT_OT_share_scene(JobStep, bpy.types.Operator):
    """Write a .blend to give away: recipe, seal line and only the skin under the mask, without names"""

    bl_idname = "sealwright.share_scene"
    bl_label = "Share Scene"
    bl_options = {"REGISTER"}
    title = "Sharing"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_sharing(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Refuse a bad folder first; then take the design, built again when this session does not know it."""
        export_folder(scene_state(context).export_folder)
        return design_steps(context, gather_wearer(context))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write the file under a free name; the scene stays as it was."""
        from ..core.export.atomic import write_file

        state = scene_state(context)
        stem = file_name("{part} {date}", "", "shared mask", state.export_date)
        path = free_name(export_folder(state.export_folder), stem)
        write_file(path, shared_bytes(context, gather_wearer(context), result))
        return f"{path.name} holds the recipe and the skin under the mask; look at it before you send it."


CLASSES = (SEALWRIGHT_OT_share_scene,)

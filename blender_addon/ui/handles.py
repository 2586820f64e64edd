# SPDX-License-Identifier: GPL-3.0-or-later
"""Handles drawn in the view as Blender's gizmos; dragging one is a step of its own."""

from __future__ import annotations

from typing import Any

import bpy
from mathutils import Matrix, Vector

from ..model.wearers import active_wearer, scene_state, tagged
from ..view.handle import Handle
from ..view.handles import handles_of
from ..view.messages import COMING
from ..view.overlay import ORANGE, SKY, VERMILION
from ..view.standing import standing_tags

SIZE = 0.14  # of the usual size of Blender's gizmos
COLOURS = {"front_mm": ORANGE, "tilt_deg": ORANGE, "turn_deg": ORANGE, "width_mm": SKY}


class SEALWRIGHT_GGT_handles(bpy.types.GizmoGroup):
    """Ports, lugs and band of the shape that is shown"""

    bl_idname = "SEALWRIGHT_GGT_handles"
    bl_label = "Sealwright Handles"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options = {"3D", "PERSISTENT", "SHOW_MODAL_ALL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """A shape is to be seen, in object mode, and the maker wants handles."""
        if context.scene is None or not len(scene_state(context).wearers):
            return False
        wearer = active_wearer(context)
        return (
            wearer is not None
            and scene_state(context).handles
            and context.mode == "OBJECT"
            and any(tag in standing_tags(wearer) and obj.visible_get() for tag, obj in tagged(wearer, ""))
        )

    def setup(self, context: bpy.types.Context) -> None:
        """Called by Blender when the group is first drawn."""
        self.refresh(context)

    def refresh(self, context: bpy.types.Context) -> None:
        """As many gizmos as there are handles, each with its value."""
        wearer = active_wearer(context)
        found = handles_of(context, wearer, late=bool(COMING)) if wearer else []
        while len(self.gizmos) < len(found):
            self.gizmos.new("GIZMO_GT_move_3d")
        self._place(found)

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """Each gizmo where its handle is by now."""
        wearer = active_wearer(context)
        self._place(handles_of(context, wearer, late=bool(COMING)) if wearer else [])

    def _place(self, found: list[Handle]) -> None:
        for index, gizmo in enumerate(self.gizmos):
            gizmo.hide = index >= len(found)
            if not gizmo.hide:
                dress(gizmo, found[index])


def dress(gizmo: Any, handle: Handle) -> None:
    """Give a gizmo the place, the colour and the value of a handle."""
    gizmo.draw_style, gizmo.draw_options = "RING_2D", {"FILL", "ALIGN_VIEW"}
    gizmo.matrix_basis = Matrix.Translation(Vector(handle.at.tolist()))
    gizmo.scale_basis, gizmo.line_width = SIZE, 3.0
    gizmo.color = COLOURS.get(handle.key.rpartition(".")[2], VERMILION)[:3]
    gizmo.color_highlight, gizmo.alpha, gizmo.alpha_highlight = (1.0, 1.0, 1.0), 0.9, 1.0
    gizmo.use_draw_modal = True
    gizmo.target_set_operator("sealwright.move_handle").key = handle.key


CLASSES = (SEALWRIGHT_GGT_handles,)

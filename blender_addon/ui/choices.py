# SPDX-License-Identifier: GPL-3.0-or-later
"""Better designs to choose from: a list in the Checks panel, and dots to click in the view."""

from __future__ import annotations

from typing import Any

import bpy
from mathutils import Matrix

from ..model.wearers import scene_state
from ..view.choices import plot_now, sentence_of
from ..view.standing import choices_current
from .header import VERDICTS, write


class SEALWRIGHT_UL_choices(bpy.types.UIList):
    """The designs that a search found, by rising pressure."""

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        data: Any,
        item: Any,
        icon: Any,
        active_data: Any,
        active_property: Any,
        index: Any,
        flt_flag: Any,
    ) -> None:
        """One design: its number, pressure, how often it works, mass, and what it was picked out for."""
        verdict: Any = VERDICTS.get(item.verdict, "BLANK1")  # a sketch has none
        row = layout.row(align=True)
        row.label(text=item.name, icon=verdict)
        for text in (f"{item.pressure_kpa:.1f} kPa", f"{100 * item.working:.0f} %", f"{item.mass_g:.0f} g"):
            row.label(text=text)


def draw_choices(layout: bpy.types.UILayout, context: bpy.types.Context, wearer: Any, width: int) -> None:
    """The search, its designs, and the button that takes the chosen one."""
    layout.operator("sealwright.search_designs", icon="VIEWZOOM")
    if not len(wearer.choices):
        write(layout, "Tries other values on this face; takes some minutes.", width)
        return
    state, current = scene_state(context), choices_current(context, wearer)
    if not current:
        layout.label(text="Found from other values: search again.", icon="FILE_REFRESH")
    column = layout.column()
    column.active = current
    column.template_list("SEALWRIGHT_UL_choices", "", wearer, "choices", wearer, "choice", rows=4)
    write(column, sentence_of(wearer.choices[min(wearer.choice, len(wearer.choices) - 1)]), width)
    column.prop(state, "show_choices")
    layout.operator("sealwright.use_design", icon="CHECKMARK")


class SEALWRIGHT_GGT_choices(bpy.types.GizmoGroup):
    """Designs of the plot that can be clicked"""

    bl_idname = "SEALWRIGHT_GGT_choices"
    bl_label = "Sealwright Designs"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options = {"PERSISTENT", "SCALE"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """The plot is to be seen."""
        return plot_now(context) is not None

    def setup(self, context: bpy.types.Context) -> None:
        """Called by Blender when the group is first drawn."""
        self.draw_prepare(context)

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """One gizmo on each dot; the dots themselves are drawn with the plot."""
        found = plot_now(context)
        dots = found[1].dots if found else ()
        while len(self.gizmos) < len(dots):
            made: Any = self.gizmos.new("GIZMO_GT_button_2d")
            made.draw_options, made.scale_basis = {"BACKDROP"}, 9.0
            made.color, made.color_highlight = (1.0, 1.0, 1.0), (1.0, 1.0, 1.0)
            made.alpha, made.alpha_highlight = 0.0, 0.4
            made.target_set_operator("sealwright.choose_design").index = len(self.gizmos) - 1
        for gizmo, place in zip(self.gizmos, (*dots, *[None] * len(self.gizmos)), strict=False):
            gizmo.hide = place is None
            if place is not None:
                gizmo.matrix_basis = Matrix.Translation((place[0], place[1], 0.0))


CLASSES = (SEALWRIGHT_UL_choices, SEALWRIGHT_GGT_choices)

# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels of the job, in its order."""

from __future__ import annotations

from typing import Any

import bpy

from ..wearers import active_wearer, scene_state
from .header import Panel


class SEALWRIGHT_UL_wearers(bpy.types.UIList):
    """The list of wearers."""

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
        """One wearer: name, and a mark when the parts are out of date."""
        layout.prop(item, "name", text="", emboss=False, icon="USER")
        if item.stale and item.quality != "NONE":
            layout.label(text="", icon="FILE_REFRESH")


class SEALWRIGHT_PT_scan(Panel):
    """Scan: whose, which mesh, how large."""

    bl_idname = "SEALWRIGHT_PT_scan"
    bl_label = "Scan"
    bl_order = 1

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Draw the panel."""
        state = scene_state(context)
        row = layout.row()
        row.template_list("SEALWRIGHT_UL_wearers", "", state, "wearers", state, "active", rows=2)
        column = row.column(align=True)
        column.operator("sealwright.add_wearer", text="", icon="ADD")
        column.operator("sealwright.remove_wearer", text="", icon="REMOVE")
        row = layout.row(align=True)
        row.operator("sealwright.take_scan")
        row.operator("sealwright.import_scan", icon="IMPORT")
        wearer = active_wearer(context)
        if wearer is None:
            return
        layout.use_property_split = True
        layout.prop(wearer, "scan")
        layout.prop(wearer, "unit")
        layout.operator("sealwright.use_fitting_unit")
        box = layout.column(align=True)
        box.operator("sealwright.add_ruler", icon="DRIVER_DISTANCE")
        box.prop(state, "ruler_mm")
        box.operator("sealwright.use_ruler")


CLASSES = (SEALWRIGHT_UL_wearers, SEALWRIGHT_PT_scan)

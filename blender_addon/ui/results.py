# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels after the build: checks with their maps, and print."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

from ..model.own_objects import OWN
from ..model.wearers import active_wearer, scene_state
from ..model.words import told
from ..view.lengths import shown
from ..view.messages import window_state
from ..view.standing import checks_current
from .choices import draw_choices
from .fields import draw_fields, folding, section_fields
from .header import VERDICTS, write, write_hint
from .panels import WearerPanel

CAUTION = (
    "Home-made, not certified. Never in air without oxygen or air that kills at once. Needs a fit test by a "
    "competent person, a shaved face under the seal, skin-safe materials."
)


def draw_check(layout: bpy.types.UILayout, row: Any, index: int) -> None:
    """One check in one row; the rest is in its tooltip, or behind the question mark where not passed."""
    icon: Any = VERDICTS[row.verdict]
    line = layout.row(align=True)
    line.alignment = "LEFT"
    if row.verdict != "pass":
        line.context_pointer_set("sealwright_check", row)
        line.popover(SEALWRIGHT_PT_mend.bl_idname, text="", icon="QUESTION")
    text = f"{shown(row.value)}   {told(row.name)}"  # the value first: a narrow panel cuts the end off
    button: Any = line.operator("sealwright.show_check", text=text, icon=icon, emboss=False)
    button.index = index


MEND_WIDTH = 400  # of the popover, as `bl_ui_units_x` makes it


class SEALWRIGHT_PT_mend(bpy.types.Panel):
    """Why a check is not passed, and how to mend it; opened from its row."""

    bl_idname = "SEALWRIGHT_PT_mend"
    bl_label = "How to Mend It"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options = {"INSTANCED"}
    bl_ui_units_x = 16

    def draw(self, context: bpy.types.Context) -> None:
        """Called by Blender when it is opened."""
        row: Any = getattr(context, "sealwright_check", None)
        if self.layout is None or row is None:
            return
        for icon, text in (
            (VERDICTS[row.verdict], row.name),
            ("NONE", row.reason),
            ("NONE", told("Limit: {limit}.", limit=row.limit)),
        ):
            write(self.layout, text, MEND_WIDTH, icon)
        write(self.layout, row.fix, MEND_WIDTH, "TOOL_SETTINGS")


class SEALWRIGHT_PT_checks(WearerPanel):
    """Checks: pass or fail, where, and as colours."""

    bl_label = "Checks"
    step = "checks"

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Maps, the list of checks, remarks."""
        wearer = active_wearer(context)
        if wearer is None:
            return
        width = context.region.width if context.region else 300
        write_hint(layout, context, "checks")
        row = layout.row(align=True)
        row.operator("sealwright.examine", icon="VIEWZOOM")
        row.operator("sealwright.try_remedies", icon="EXPERIMENTAL")
        layout.operator_menu_enum("sealwright.show_map", "kind", text="Show Map", icon="COLOR")
        current = checks_current(context, wearer)
        if not current and len(wearer.checks):
            layout.label(text="Out of date: these speak of another state.", icon="FILE_REFRESH")
        if wearer.headline:
            write(layout, wearer.headline, width)
        column = layout.column()
        column.active = current
        draw_checks(column, wearer)
        draw_remarks(column, wearer, width)
        if wearer.recipe.kind not in OWN:
            draw_better(layout, context, wearer, width)


def draw_better(layout: bpy.types.UILayout, context: bpy.types.Context, wearer: Any, width: int) -> None:
    """The search for better masks, and what a prediction of one assumes; both closed at first."""
    found = len(wearer.choices) > 0  # a name of its own, so that what is found begins open
    header, body = folding(layout, "choices_found" if found else "choices", folded=not found)
    header.label(text="Better Designs")
    if body is not None:
        draw_choices(body, context, wearer, width)
    header, body = folding(layout, "prediction", folded=True)
    header.label(text="What the Prediction Assumes")
    if body is not None:
        draw_fields(body, wearer.recipe.prediction, section_fields("prediction"))


def draw_checks(layout: bpy.types.UILayout, wearer: Any) -> None:
    """What is not passed, one row each; what is passed, closed."""
    rows = list(enumerate(wearer.checks))
    column = layout.column(align=True)
    for index, row in rows:
        if row.verdict != "pass":
            draw_check(column, row, index)
    passed = [(index, row) for index, row in rows if row.verdict == "pass"]
    if not passed:
        return
    header, body = folding(layout, "passed", folded=True)
    header.label(text=told("Passed: {count}", count=len(passed)), icon="CHECKMARK")
    if body is not None:
        column = body.column(align=True)
        for index, row in passed:
            draw_check(column, row, index)


def draw_remarks(layout: bpy.types.UILayout, wearer: Any, width: int) -> None:
    """What the maker should know besides, closed."""
    if not len(wearer.remarks):
        return
    header, body = folding(layout, "remarks", folded=True)
    header.label(text=told("Remarks: {count}", count=len(wearer.remarks)))
    for row in wearer.remarks if body is not None else ():
        assert body is not None
        write(body, row.name, width, "INFO" if row.level == "note" else "ERROR")


def fields_but(shown: str) -> Any:
    """The fields of the printer without one that is shown elsewhere."""
    return [field for field in section_fields("printer") if field["name"] != shown]


def draw_ways(layout: bpy.types.UILayout, wearer: Any, width: int) -> None:
    """The choice of the way up, and what each costs and brings since Examine."""
    way = [field for field in section_fields("printer") if field["name"] == "way_up"]
    draw_fields(layout, wearer.recipe.printer, way)
    if not len(wearer.ways):
        return
    header, body = folding(layout, "ways", folded=True)
    header.label(text="Ways Up Compared")
    for row in wearer.ways if body is not None else ():
        assert body is not None
        write(body, row.name, width)


def draw_exported(layout: bpy.types.UILayout, report: Path) -> None:
    """Report and folder of the last export, when they are still there."""
    if not report.is_file():
        return
    row = layout.row(align=True)
    page: Any = row.operator("wm.url_open", text="Open Report", icon="DOCUMENTS")
    page.url = report.as_uri()
    folder: Any = row.operator("wm.path_open", text="Open Folder", icon="FILE_FOLDER")
    folder.filepath = str(report.parent)


class SEALWRIGHT_PT_print(WearerPanel):
    """Print: recipe, allowances, names, export."""

    bl_label = "Print"
    step = "print"

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Recipe files and presets, allowances, export."""
        wearer, state = active_wearer(context), scene_state(context)
        if wearer is None:
            return
        width = context.region.width if context.region else 300
        write_hint(layout, context, "print")
        row = layout.row(align=True)
        row.operator_menu_enum("sealwright.apply_preset", "preset", text="Preset", icon="PRESET")
        row.operator("sealwright.keep_preset", text="", icon="ADD")
        row = layout.row(align=True)
        row.operator("sealwright.load_recipe", text="Load", icon="IMPORT")
        row.operator("sealwright.save_recipe", text="Save", icon="EXPORT")
        if len(state.wearers) > 1:
            layout.operator_menu_enum("sealwright.take_recipe", "wearer", text="Take Recipe From")
        draw_fields(layout, wearer.recipe.allowance, section_fields("allowance"), "allowance")
        draw_ways(layout, wearer, width)
        header, body = folding(layout, "printer", folded=True)
        header.label(text="Printer")
        if body is not None:
            draw_fields(body, wearer.recipe.printer, fields_but("way_up"))
        column = layout.column(align=True)
        for name in ("export_folder", "export_name", "export_date"):
            column.prop(state, name)
        write(layout, CAUTION, width, "ERROR")
        layout.operator("sealwright.export_parts", icon="EXPORT")
        draw_exported(layout, Path(window_state(context).last_report))
        layout.operator("sealwright.share_scene", icon="COMMUNITY")


CLASSES = (SEALWRIGHT_PT_mend,)

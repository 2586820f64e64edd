# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels of the job, in its order."""

from __future__ import annotations

from typing import Any

import bpy

from ..core.scan.landmark_names import PLAIN, side_of
from ..jobs.state import SURE
from ..model.landmarks import CONFIDENCE, PREFIX, moved_landmarks
from ..model.own_objects import OWN
from ..model.wearers import active_wearer, scene_state, tagged
from ..model.words import told
from ..view.standing import stale
from .fields import draw_fields, draw_value, folding, section_fields
from .header import StepPanel, write, write_hint
from .own_shapes import draw_cage, draw_source
from .scale import draw_measuring, draw_scales
from .trust import draw_trust

_OF_KIND = {"tube": ("tube",), "shell": ("shell",), "trim": ("trim", "band", "cushion")}
SIDES = {"middle": "Middle of the Face", "left": "Wearer's Left", "right": "Wearer's Right"}
_BODY_SECTIONS = {
    "band": "Contact Band",
    "cushion": "Cushion",
    "contact_surface": "Contact Surface",
    "chamber": "Chamber",
    "tube": "Plain Tube",
    "shell": "Shell",
    "trim": "Trim to Face",
}


class WearerPanel(StepPanel):
    """A panel that shows the active wearer's values; not registered itself."""

    section = ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Shown once there is a wearer."""
        return active_wearer(context) is not None

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Steps above, values below."""
        wearer = active_wearer(context)
        self.steps(layout, context)
        if self.section and wearer is not None:
            draw_fields(
                layout, getattr(wearer.recipe, self.section), section_fields(self.section), self.section
            )

    def steps(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """The panel's buttons."""


class MaskPanel(WearerPanel):
    """A panel of what only a mask has, not a shape of the maker's own; not registered itself."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Shown once there is a wearer of a mask."""
        wearer = active_wearer(context)
        return wearer is not None and wearer.recipe.kind not in OWN


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
        if stale(context, item):
            layout.label(text="", icon="FILE_REFRESH")


class SEALWRIGHT_PT_scan(StepPanel):
    """Scan: whose, which mesh, how large."""

    bl_label = "Scan"
    step = "scan"

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Draw the panel."""
        write_hint(layout, context, "scan")
        state = scene_state(context)
        row = layout.row()
        row.template_list("SEALWRIGHT_UL_wearers", "", state, "wearers", state, "active", rows=3)
        column = row.column(align=True)
        column.operator("sealwright.add_wearer", text="", icon="ADD")
        column.operator("sealwright.add_design", text="", icon="DUPLICATE")
        column.operator("sealwright.remove_wearer", text="", icon="REMOVE")
        if len(state.wearers) > 1:
            layout.prop(state, "show_all")
        row = layout.row(align=True)
        row.operator("sealwright.take_scan")
        row.operator("sealwright.import_scan", icon="IMPORT")
        wearer = active_wearer(context)
        if wearer is None:
            return
        column = layout.column(align=True)
        column.prop(wearer, "scan")
        column.prop(wearer, "unit")
        column.prop(wearer, "adult")
        layout.operator("sealwright.use_fitting_unit")
        header, body = folding(layout, "measure", folded=True)
        header.label(text="Measure the Scale")
        if body is not None:
            draw_measuring(body, context)
        column = layout.column(align=True)
        for field in section_fields("scan"):
            if field["name"] in ("wearer_scale", "smoothing_mm", "fill_mm"):
                draw_value(column, wearer.recipe.scan, field)
        draw_scales(layout, context, wearer, context.region.width if context.region else 300)


def draw_found(layout: bpy.types.UILayout, wearer: Any, width: int) -> None:
    """How well the orientation fits and what it rests on; what was mended or doubted on the way."""
    icon: Any = "CHECKMARK" if wearer.pose_sure >= SURE else "QUESTION"
    score = f"{wearer.pose_sure:.2f}"
    if wearer.clicked:
        said = told("Orientation from your three clicks: score {score} of 1.", score=score)
    else:
        said = told("Orientation from the shape of the face: score {score} of 1.", score=score)
    write(layout, said, width, icon)
    for row in wearer.found:
        write(layout, row.name, width, "INFO" if row.level == "note" else "ERROR")


class SEALWRIGHT_PT_landmarks(WearerPanel):
    """Landmarks: find, look, correct."""

    bl_label = "Landmarks"
    step = "landmarks"

    def steps(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Find the face, list what was found with its confidence."""
        write_hint(layout, context, "landmarks")
        layout.operator("sealwright.find_face", icon="VIEWZOOM")
        row = layout.row(align=True)
        row.operator_menu_enum("sealwright.set_landmark", "name", text="Set at Cursor", icon="CURSOR")
        row.operator("sealwright.reset_landmarks", icon="LOOP_BACK")
        wearer = active_wearer(context)
        if wearer is None:
            return
        row = layout.row(align=True)
        row.operator("sealwright.three_clicks", icon="RESTRICT_SELECT_OFF")
        if wearer.clicked:
            row.operator("sealwright.forget_clicks", text="", icon="X")
        if wearer.prepared:
            draw_found(layout, wearer, context.region.width if context.region else 300)
        found, moved = dict(tagged(wearer, PREFIX)), moved_landmarks(context, wearer)
        for side in SIDES:
            names = [name for name in PLAIN if name in found and side_of(name) == side]
            if names:
                layout.label(text=told(SIDES[side]))
                draw_landmarks(layout.column(align=True), names, found, moved)


def draw_landmarks(layout: bpy.types.UILayout, names: list[str], found: Any, moved: Any) -> None:
    """Landmarks of one side from the top down: a hand's own, sure ones, and those to look at."""
    for name in names:
        sure = found[name].get(CONFIDENCE, 0.0)
        icon: Any = "CHECKMARK" if sure >= SURE else "QUESTION"
        text = f"{told(PLAIN[name])}   {100 * sure:.0f} %"
        if name in moved:
            icon, text = "GREASEPENCIL", f"{told(PLAIN[name])}   {told('set by you')}"
        row = layout.row()
        row.alignment = "LEFT"
        button: Any = row.operator("sealwright.show_landmark", text=text, icon=icon, emboss=False)
        button.name = name


class SEALWRIGHT_PT_seal_line(MaskPanel):
    """Seal line: lay, edit, values of the proposal."""

    bl_label = "Seal Line"
    step = "seal_line"
    section = "seal_line"

    def steps(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Lay and edit the line."""
        write_hint(layout, context, "seal_line")
        row = layout.row(align=True)
        row.operator("sealwright.lay_seal_line", text="Lay Line", icon="CURVE_BEZCIRCLE")
        row.operator("sealwright.draw_seal_line", icon="GREASEPENCIL")
        row = layout.row(align=True)
        row.operator("sealwright.edit_seal_line", icon="EDITMODE_HLT")
        row.operator("sealwright.smooth_seal_line", icon="MOD_SMOOTH")
        row = layout.row()
        row.use_property_split = False
        row.prop(scene_state(context), "mirror_line")
        row = layout.row(align=True)
        row.operator("sealwright.add_seal_point", text="Add Point", icon="ADD")
        row.operator("sealwright.remove_seal_point", text="Remove Point", icon="REMOVE")
        layout.operator_menu_enum("sealwright.mirror_seal_line", "keep", text="Mirror", icon="MOD_MIRROR")
        wearer = active_wearer(context)
        if wearer is not None:
            draw_trust(layout, context, wearer, context.region.width if context.region else 300)


class SEALWRIGHT_PT_body(WearerPanel):
    """Body: preview, build, band and chamber."""

    bl_label = "Body"
    step = "body"

    def beside(self, header: bpy.types.UILayout) -> None:
        """Presets at the top, where Blender's own panels have them."""
        header.operator_menu_enum("sealwright.apply_preset", "preset", text="", icon="PRESET")

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Buttons, then the sections of the kind: from the band to the chamber, the tube or the shell."""
        wearer, state = active_wearer(context), scene_state(context)
        if wearer is None:
            return
        write_hint(layout, context, "body")
        row = layout.row(align=True)
        row.operator("sealwright.preview_body", icon="SHADING_WIRE")
        row.use_property_split = False
        row.prop(state, "live", toggle=True)
        layout.operator("sealwright.build_parts", icon="MOD_SOLIDIFY")
        layout.prop(state, "handles")
        column = layout.column(align=True)
        column.prop(wearer.recipe, "title")
        column.prop(wearer.recipe, "kind")
        draw_source(layout, wearer)
        for name in _OF_KIND.get(wearer.recipe.kind, ("band", "cushion", "contact_surface", "chamber")):
            header, body = folding(layout, name)
            header.label(text=_BODY_SECTIONS[name])
            if body is not None:
                if name == "cushion":
                    body.prop(wearer, "cushion_shown")
                if name == "chamber":
                    draw_cage(body, wearer)
                draw_fields(body, getattr(wearer.recipe, name), section_fields(name), name)


class SEALWRIGHT_PT_straps(MaskPanel):
    """Straps: lugs and where they sit."""

    bl_label = "Straps"
    step = "straps"
    section = "straps"

    def steps(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """What to do here."""
        write_hint(layout, context, "straps")


CLASSES = (SEALWRIGHT_UL_wearers,)

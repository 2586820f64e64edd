# SPDX-License-Identifier: GPL-3.0-or-later
"""The top of the tab: what comes next, the running job, the last problem."""

from __future__ import annotations

import textwrap
from typing import Any

import bpy

from ..jobs.folds import folds_of
from ..jobs.greeting import CATEGORY
from ..jobs.state import hint, next_step
from ..model.words import told
from ..view.flat import scale_of_text
from ..view.lengths import shown
from ..view.messages import current_problem, window_state

MENDING = {
    "implausible-size": "use_fitting_unit",
    "not-a-face": "three_clicks",
    "seal-line": "edit_seal_line",
    "off-the-scan": "edit_seal_line",
    "band-folds": "smooth_seal_line",
    "outline": "edit_outline",
}
"""Code of a refusal -> the step that begins to mend it."""
VERDICTS = {"pass": "CHECKMARK", "warn": "ERROR", "fail": "CANCEL"}
"""Icons of verdicts."""
LETTER_WIDTH, ICON_WIDTH = 6.4, 60.0  # mean of Blender's default font; icon and margins


class Panel(bpy.types.Panel):
    """Every panel of ours; not registered itself."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = CATEGORY

    def draw(self, context: bpy.types.Context) -> None:
        """Called by Blender on each redraw."""
        assert self.layout is not None
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.content(self.layout, context)

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """What the panel shows."""
        raise NotImplementedError


class StepPanel:
    """A part of the panel Steps that folds, and opens by itself while its step comes next."""

    bl_label = ""
    step = ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Whether it is there at all."""
        return True

    def draw(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """A header that folds, and the content while it is open."""
        made: Any = layout.panel_prop(folds_of(context), self.step)
        header, body = made
        header.label(text=self.bl_label)
        self.beside(header)
        if body is not None:
            body.use_property_split, body.use_property_decorate = True, False
            self.content(body, context)

    def beside(self, header: bpy.types.UILayout) -> None:
        """What stands at the right end of the header."""

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """What it shows."""
        raise NotImplementedError


def write(layout: bpy.types.UILayout, text: str, width: int, icon: str = "NONE") -> None:
    """A sentence, in the maker's language and unit, over as many lines as the panel's width needs."""
    text = shown(told(text) if "{" not in text else text)
    column = layout.column(align=True)
    characters = int((width / scale_of_text() - ICON_WIDTH) / LETTER_WIDTH)
    for row, line in enumerate(textwrap.wrap(text, max(characters, 20))):
        column.label(text=line, icon=icon if row == 0 or icon == "NONE" else "BLANK1")  # type: ignore[arg-type]


def write_hint(layout: bpy.types.UILayout, context: bpy.types.Context, panel: str) -> None:
    """The first line of a panel: what to do there next."""
    width = context.region.width if context.region else 300
    write(layout, hint(context, panel), width, "RIGHTARROW_THIN")


class SEALWRIGHT_PT_next(Panel):
    """What comes next."""

    bl_idname = "SEALWRIGHT_PT_next"
    bl_label = "Next"
    bl_order = 0

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Draw the panel."""
        state = window_state(context)
        width = context.region.width if context.region else 300
        if state.job_title:
            layout.label(text=told("{job} (Esc cancels)", job=told(state.job_title)))
            layout.progress(factor=state.job_fraction, text=state.job_label)
            return
        coming = next_step(context)
        write(layout, coming.said, width, "FORWARD")
        if coming.operator:
            layout.operator(f"sealwright.{coming.operator}")
        problem = current_problem(context)
        if problem is not None:
            box = layout.box()
            for icon, part in (("ERROR", "what"), ("NONE", "fix")):
                write(box, getattr(problem, part), width - 30, icon)
            if problem.code in MENDING:
                box.operator(f"sealwright.{MENDING[problem.code]}", icon="TOOL_SETTINGS")
            row = box.row(align=True)
            row.operator("sealwright.show_place", icon="ZOOM_SELECTED")
            row.operator("sealwright.dismiss_problem", icon="X")


CLASSES = (SEALWRIGHT_PT_next,)

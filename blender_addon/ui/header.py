# SPDX-License-Identifier: GPL-3.0-or-later
"""The top of the tab: what comes next, the running job, the last problem."""

from __future__ import annotations

import textwrap
from typing import Any

import bpy

from ..jobs.greeting import CATEGORY
from ..jobs.state import hint, next_step
from ..view.lengths import shown
from ..view.messages import current_problem, window_state

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


def write(layout: bpy.types.UILayout, text: str, width: int, icon: str = "NONE") -> None:
    """A sentence, in the maker's language and unit, over as many lines as the panel's width needs."""
    said: Any = bpy.app.translations.pgettext_iface  # type: ignore[func-returns-value]
    text = shown(said(text))
    column = layout.column(align=True)
    system = bpy.context.preferences.system if bpy.context.preferences else None
    scale = (system.ui_scale if system else 0.0) or 1.0  # without a window Blender says 0
    characters = int((width / scale - ICON_WIDTH) / LETTER_WIDTH)
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
            layout.label(text=f"{state.job_title} (Esc cancels)")
            layout.progress(factor=state.job_fraction, text=state.job_label)
            return
        text, operator = next_step(context)
        write(layout, text, width, "FORWARD")
        if operator:
            layout.operator(f"sealwright.{operator}")
        problem = current_problem(context)
        if problem is not None:
            box = layout.box()
            for icon, part in (("ERROR", "what"), ("NONE", "fix")):
                write(box, getattr(problem, part), width - 30, icon)
            row = box.row(align=True)
            row.operator("sealwright.show_place", icon="ZOOM_SELECTED")
            row.operator("sealwright.dismiss_problem", icon="X")


CLASSES = (SEALWRIGHT_PT_next,)

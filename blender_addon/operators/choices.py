# SPDX-License-Identifier: GPL-3.0-or-later
"""Better designs: search for them, look at one, take its values."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, IntProperty

from ..jobs.handle_step import owner_of, set_value
from ..jobs.job import JobStep
from ..jobs.live import value_changed
from ..jobs.searching import commit_choices, search_steps
from ..jobs.state import need_line, need_wearer
from ..model.fingerprint import inputs_print
from ..model.quiet import quiet
from ..model.wearers import active_wearer, gather_wearer
from ..view.choices import sentence_of
from ..view.messages import Step, redraw
from ..view.standing import choices_current

if TYPE_CHECKING:
    from ..core.search.improve import Improvement
    from ..jobs.job import Steps


class SEALWRIGHT_OT_search_designs(JobStep, bpy.types.Operator):
    """Try widths, cushion, surface, heights and strap places on this face; choose from what presses less"""

    bl_idname = "sealwright.search_designs"
    bl_label = "Search Better Designs"
    bl_options = {"REGISTER", "UNDO"}
    title = "Searching better designs"

    if TYPE_CHECKING:
        tries: int
        in_full: bool
    else:
        tries: IntProperty(name="Designs to Try", default=64, min=8, max=1000, options={"SKIP_SAVE"})
        in_full: BoolProperty(
            name="Design Picks in Full",
            description="Design what is picked out in full and judge it as its report does",
            default=True,
            options={"SKIP_SAVE"},
        )

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A seal line is needed."""
        return need_line(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Prepare when something changed, then search."""
        return search_steps(context, gather_wearer(context), self.tries, self.in_full)

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Lay out what was found, to choose from."""
        found: Improvement = result
        commit_choices(context, gather_wearer(context), found)
        if not found.better:
            return f"{found.tried} designs were tried; none presses less and holds no less than yours."
        return f"{found.tried} designs were tried; {len(found.better)} are better. Choose one in the plot."


class SEALWRIGHT_OT_choose_design(bpy.types.Operator):
    """Look at this design; Use This Design takes its values"""

    bl_idname = "sealwright.choose_design"
    bl_label = "Choose Design"
    bl_options = {"INTERNAL"}

    if TYPE_CHECKING:
        index: int
    else:
        index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """What the design is, in the tooltip."""
        rows = gather_wearer(context).choices
        return sentence_of(rows[properties.index]) if properties.index < len(rows) else ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """There is something to choose from."""
        wearer = active_wearer(context)
        return wearer is not None and len(wearer.choices) > 0

    def execute(self, context: bpy.types.Context) -> set[Any]:
        """Choose it in the list."""
        wearer = gather_wearer(context)
        wearer.choice = min(self.index, len(wearer.choices) - 1)
        redraw(context)
        return {"FINISHED"}


class SEALWRIGHT_OT_use_design(Step, bpy.types.Operator):
    """Take the values of the chosen design; the preview follows, and the parts are built as always"""

    bl_idname = "sealwright.use_design"
    bl_label = "Use This Design"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """Designs to choose from are needed, found from the values as they are."""
        wearer = active_wearer(context)
        if wearer is None:
            return need_wearer(context)
        if not len(wearer.choices):
            return "Search better designs first."
        if not choices_current(context, wearer):
            return "These designs were found from other values: search again."
        return ""

    def run(self, context: bpy.types.Context) -> str:
        """Write the values that were varied."""
        wearer = gather_wearer(context)
        row = wearer.choices[min(wearer.choice, len(wearer.choices) - 1)]
        with quiet():
            for key, value in json.loads(row.given).items():
                set_value(*owner_of(wearer.recipe, key), value)
        value_changed(None, context)
        wearer.choice_taken = inputs_print(context, wearer)
        return f"The values of design {row.name} are set. Build all parts and examine them."


CLASSES = (
    SEALWRIGHT_OT_search_designs,
    SEALWRIGHT_OT_choose_design,
    SEALWRIGHT_OT_use_design,
)

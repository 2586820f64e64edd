# SPDX-License-Identifier: GPL-3.0-or-later
"""Checks: colour maps with their legend, and the place where a check is at its worst."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import EnumProperty, IntProperty

from ..core.errors import Where
from ..jobs.job import JobStep
from ..jobs.output import commit_examined, show_only, shown_parts
from ..jobs.stages import made_steps, prepared_now
from ..jobs.state import need_design, need_face
from ..model.wearers import active_wearer, gather_wearer, tagged, wearer_mm
from ..view.framing import colour_views
from ..view.lengths import shown
from ..view.messages import Refusal, Step
from ..view.skin_map import TAG_SKIN, commit_skin
from ..view.standing import PREVIEW
from .problem import frame_place

if TYPE_CHECKING:
    from ..jobs.job import Steps

MAPS = (
    ("NONE", "Parts", "The parts without colours"),
    ("gap", "Gap", "Gap between contact band and skin"),
    ("offset", "Offset", "How far a shaped contact surface is moved off the skin"),
    ("wall", "Wall", "Thickness of the chamber wall"),
    ("staircase", "Layer Steps", "How high the steps of the layers stand on the contact face"),
    ("pressure", "Pressure", "Predicted pressure on the skin, after Examine"),
    ("overhang", "Overhang", "How far surfaces lean out as the body prints"),
    ("skin", "Changes of the Skin", "What was filled, pulled back or smoothed on the scanned skin"),
)


class SEALWRIGHT_OT_examine(JobStep, bpy.types.Operator):
    """Examine the parts: soundness, print, predicted pressure and leak; every number against its limit"""

    bl_idname = "sealwright.examine"
    bl_label = "Examine"
    bl_options = {"REGISTER", "UNDO"}
    title = "Examining"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_design(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Take the design and examine it."""
        return made_steps(context, gather_wearer(context))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Show the verdicts."""
        wearer = gather_wearer(context)
        commit_examined(context, wearer, result)
        return wearer.headline


class SEALWRIGHT_OT_try_remedies(JobStep, bpy.types.Operator):
    """Wear a thicker cushion, a wider band and other remedies on this face; the checks then say what helps"""

    bl_idname = "sealwright.try_remedies"
    bl_label = "Try Remedies"
    bl_options = {"REGISTER", "UNDO"}
    title = "Trying remedies"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design that was examined is needed."""
        missing = need_design(context)
        wearer = active_wearer(context)
        return missing or ("" if wearer and wearer.headline else "Press Examine first.")

    def steps(self, context: bpy.types.Context) -> Steps:
        """Take the design and examine it with its remedies."""
        return made_steps(context, gather_wearer(context), tries=True)

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Show the verdicts, which now name what helps; say it in one sentence."""
        commit_examined(context, gather_wearer(context), result)
        told: str = result.report["tried"]["told"] if result.report["tried"] else "Nothing could be tried."
        return told


class SEALWRIGHT_OT_show_map(Step, bpy.types.Operator):
    """Show a measurement as colours, with its legend and limit in the viewport"""

    bl_idname = "sealwright.show_map"
    bl_label = "Show Map"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        kind: str
    else:
        kind: EnumProperty(name="Map", items=MAPS)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """The face must be found; for maps of the parts these must be built."""
        return need_face(context)

    def run(self, context: bpy.types.Context) -> str:
        """Show one map, or the parts again."""
        wearer = gather_wearer(context)
        if self.kind == "NONE":
            show_only(context, wearer, shown_parts(wearer) if wearer.quality == "FINAL" else (PREVIEW,))
            return "The parts are shown."
        if self.kind == "skin":
            commit_skin(context, wearer, prepared_now(context, wearer))
            show_only(context, wearer, (TAG_SKIN,))
            colour_views(context, wearer_mm(context, wearer))
            return wearer.skin_changes
        missing = need_design(context)
        if missing:
            raise Refusal(missing, Where("map", key=self.kind), "Press Build All Parts in the Body panel.")
        if self.kind not in dict(tagged(wearer, "map:")):
            raise Refusal(
                f"There is no {self.kind} map in the file.",
                Where("map", key=self.kind),
                "Build all parts again; for the pressure press Examine.",
            )
        show_only(context, wearer, (f"map:{self.kind}",))
        colour_views(context, wearer_mm(context, wearer))
        return ""


def told_of(row: Any) -> str:
    """All that a check says, as a tooltip, to which Blender adds the full stop."""
    found = f"{row.name}: {row.value}. {row.reason} Limit: {row.limit}."
    return f"{found} {row.fix}".strip().removesuffix(".")


class SEALWRIGHT_OT_show_check(bpy.types.Operator):
    """Turn the view to where this check is at its worst, and show its map"""

    bl_idname = "sealwright.show_check"
    bl_label = "Show Check"
    bl_options = {"REGISTER"}

    if TYPE_CHECKING:
        index: int
    else:
        index: IntProperty(min=0, options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """What was found, its limit, and how to mend it, in the tooltip."""
        rows = gather_wearer(context).checks
        return shown(told_of(rows[properties.index])) if properties.index < len(rows) else ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """A finished design is needed."""
        reason = need_design(context)
        if reason:
            cls.poll_message_set(reason)
        return not reason

    def execute(self, context: bpy.types.Context) -> set[Any]:
        """Frame the place."""
        wearer = gather_wearer(context)
        if self.index >= len(wearer.checks) or not wearer.checks[self.index].has_point:
            self.report({"WARNING"}, "This check has no single place.")
            return {"CANCELLED"}
        row = wearer.checks[self.index]
        if row.map in dict(tagged(wearer, "map:")):
            show_only(context, wearer, (f"map:{row.map}",))
            colour_views(context, wearer_mm(context, wearer))
        frame_place(context, (row.point[0], row.point[1], row.point[2]))
        return {"FINISHED"}


CLASSES = (
    SEALWRIGHT_OT_examine,
    SEALWRIGHT_OT_try_remedies,
    SEALWRIGHT_OT_show_map,
    SEALWRIGHT_OT_show_check,
)

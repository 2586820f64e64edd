# SPDX-License-Identifier: GPL-3.0-or-later
"""Seal line: lay the proposal, edit its points, smooth, mirror, add and remove."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from bpy.props import CollectionProperty, EnumProperty

from ..core.errors import SealLineCrossing, Where
from ..jobs import line_editing, line_mirror, live
from ..jobs.job import JobStep
from ..jobs.output import propose_line
from ..jobs.stages import commit_face, line_steps, prepared_now
from ..jobs.state import need_face, need_line, need_scan
from ..jobs.stroke_step import StrokeStep
from ..model import cache
from ..model.fingerprint import inputs_print
from ..model.placing import face_matrix, to_world
from ..model.rows import SEALWRIGHT_PG_place
from ..model.seal_curve import (
    control_points,
    draw_seal_line,
    mirrored,
    relaxed,
    seal_object,
)
from ..model.stroke import drawn
from ..model.trust_rows import headline, judge
from ..model.wearers import gather_wearer
from ..view.messages import Step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..jobs.job import Steps

    Floats = NDArray[np.float64]


class SEALWRIGHT_OT_lay_seal_line(JobStep, bpy.types.Operator):
    """Lay the proposed seal line from landmarks and recipe; replaces your own edits of the line"""

    bl_idname = "sealwright.lay_seal_line"
    bl_label = "Lay Proposed Line"
    bl_options = {"REGISTER", "UNDO"}
    title = "Laying the seal line"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed; the face is found on the way."""
        return need_scan(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Prepare when something changed, then propose."""
        return line_steps(context, gather_wearer(context))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Draw the curve."""
        wearer, (prepared, line) = gather_wearer(context), result
        commit_face(context, wearer, prepared)
        propose_line(context, wearer, line, inputs_print(context, wearer))
        judge(context, wearer, prepared, line)
        under = "under the chin" if line.under_chin else "in front of the chin"
        said = f"The seal line is {line.length_mm:.0f} mm long and passes {under}."
        return f"{said} {headline(wearer.sectors)}"


class SEALWRIGHT_OT_edit_seal_line(Step, bpy.types.Operator):
    """Edit the seal line's points on the bare skin: drag them (G), they snap to it; Tab ends editing"""

    bl_idname = "sealwright.edit_seal_line"
    bl_label = "Edit Points"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A seal line is needed."""
        return need_line(context)

    def run(self, context: bpy.types.Context) -> str:
        """Enter edit mode on the curve, with the skin alone to snap to."""
        wearer = gather_wearer(context)
        obj = seal_object(context, wearer)
        assert obj is not None
        line_editing.enter(context, wearer, obj)
        line_mirror.begin(context)
        return "Drag the points; they snap to the skin. Tab ends editing and shows the parts again."


class SEALWRIGHT_OT_draw_seal_line(StrokeStep, bpy.types.Operator):
    """Draw the seal line on the skin in one stroke, or a new course for a part of it"""

    bl_idname = "sealwright.draw_seal_line"
    bl_label = "Draw Line"
    bl_options = {"REGISTER", "UNDO"}

    if not TYPE_CHECKING:  # declared in the mixin
        stroke: CollectionProperty(type=SEALWRIGHT_PG_place, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A found face is needed."""
        return need_face(context)

    def run(self, context: bpy.types.Context) -> str:
        """Put the stroke on the skin as control points."""
        wearer = gather_wearer(context)
        prepared, obj = prepared_now(context, wearer), seal_object(context, wearer)
        stroke = to_world(np.linalg.inv(face_matrix(wearer)), self.places())
        points = drawn(stroke, control_points(obj, wearer) if obj else None)
        if obj is not None and obj.mode == "EDIT":
            bpy.ops.object.mode_set(mode="OBJECT")
        draw_seal_line(context, wearer, prepared.face.drop_on_skin(points), proposal=False)
        cache.touch()
        judge(context, wearer, prepared)
        live.follow_soon()
        return f"The seal line was drawn; it has {len(points)} points. {headline(wearer.sectors)}"


class LineEdit(Step):
    """Mixin: read the control points, change them, put them on the skin, write them back."""

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A seal line is needed."""
        return need_line(context)

    def change(self, context: bpy.types.Context, edit: Callable[[Floats], Floats]) -> None:
        """Replace the control points (k, 3), mm, face frame.

        Raises
        ------
        SealLineCrossing : fewer than four points would be left.
        """
        wearer = gather_wearer(context)
        obj = seal_object(context, wearer)
        assert obj is not None
        points = edit(control_points(obj, wearer))
        if len(points) < 4:
            raise SealLineCrossing(
                f"The seal line would have {len(points)} points; a closed line needs at least 4.",
                Where("seal line"),
                "Keep four points or more, or lay the proposed line again.",
            )
        prepared = prepared_now(context, wearer)
        if obj.mode == "EDIT":
            bpy.ops.object.mode_set(mode="OBJECT")
        draw_seal_line(context, wearer, prepared.face.drop_on_skin(points), proposal=False)
        cache.touch()
        judge(context, wearer, prepared)

    def cursor(self, context: bpy.types.Context) -> Floats:
        """The 3D cursor in mm, face frame."""
        assert context.scene is not None
        back = np.linalg.inv(face_matrix(gather_wearer(context)))
        return to_world(back, context.scene.cursor.location[:])


class SEALWRIGHT_OT_smooth_seal_line(LineEdit, bpy.types.Operator):
    """Move every point of the seal line half way between its neighbours, on the skin"""

    bl_idname = "sealwright.smooth_seal_line"
    bl_label = "Smooth"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> str:
        """Smooth once."""
        self.change(context, relaxed)
        return "The seal line was smoothed."


class SEALWRIGHT_OT_mirror_seal_line(LineEdit, bpy.types.Operator):
    """Copy one half of the seal line to the other side of the face"""

    bl_idname = "sealwright.mirror_seal_line"
    bl_label = "Mirror"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        keep: str
    else:
        keep: EnumProperty(
            name="Keep",
            items=(
                ("LEFT", "Wearer's Left", "Copy left to right"),
                ("RIGHT", "Wearer's Right", "Copy right to left"),
            ),
        )

    def run(self, context: bpy.types.Context) -> str:
        """Mirror about the face's midplane."""
        self.change(context, lambda points: mirrored(points, self.keep == "LEFT"))
        return "The seal line was mirrored."


class SEALWRIGHT_OT_add_seal_point(LineEdit, bpy.types.Operator):
    """Add a point to the seal line at the 3D cursor, between the two points it lies nearest to"""

    bl_idname = "sealwright.add_seal_point"
    bl_label = "Add at Cursor"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> str:
        """Insert where the detour is shortest."""
        place = self.cursor(context)

        def insert(points: Floats) -> Floats:
            after = np.roll(points, -1, axis=0)
            detour = np.linalg.norm(points - place, axis=1) + np.linalg.norm(after - place, axis=1)
            index = int(np.argmin(detour - np.linalg.norm(after - points, axis=1)))
            return np.insert(points, index + 1, place, axis=0)

        self.change(context, insert)
        return "A point was added."


class SEALWRIGHT_OT_remove_seal_point(LineEdit, bpy.types.Operator):
    """Remove the point of the seal line nearest to the 3D cursor"""

    bl_idname = "sealwright.remove_seal_point"
    bl_label = "Remove at Cursor"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> str:
        """Remove one point."""
        place = self.cursor(context)

        def drop(points: Floats) -> Floats:
            return np.delete(points, int(np.argmin(np.linalg.norm(points - place, axis=1))), axis=0)

        self.change(context, drop)
        return "A point was removed."


CLASSES = (
    SEALWRIGHT_OT_lay_seal_line,
    SEALWRIGHT_OT_edit_seal_line,
    SEALWRIGHT_OT_draw_seal_line,
    SEALWRIGHT_OT_smooth_seal_line,
    SEALWRIGHT_OT_mirror_seal_line,
    SEALWRIGHT_OT_add_seal_point,
    SEALWRIGHT_OT_remove_seal_point,
)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Landmarks: find the face, set landmarks by hand, go back to the proposal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import EnumProperty, StringProperty

from ..core.scan.landmark_names import DEFINITIONS, plain_name
from ..jobs.job import JobStep
from ..jobs.stages import commit_face, prepare_steps
from ..jobs.state import need_face, need_scan
from ..model import cache
from ..model.landmarks import PREFIX, PROPOSAL, new_landmark, stick_to
from ..model.recipe_text import recipe_of
from ..model.trust_rows import judge
from ..model.wearers import active_wearer, gather_wearer, tagged
from ..view.messages import Step
from .problem import frame_place

if TYPE_CHECKING:
    from ..jobs.job import Steps


def latin(name: str) -> str:
    """The Latin name of a landmark and what it means."""
    return f"{name.replace('_', ' ').capitalize()}: {DEFINITIONS.get(name, '')}"


NAMES = tuple((name, plain_name(name), latin(name)) for name in DEFINITIONS)


class SEALWRIGHT_OT_find_face(JobStep, bpy.types.Operator):
    """Find the face on the scan and propose its landmarks; landmarks that you moved stay where they are"""

    bl_idname = "sealwright.find_face"
    bl_label = "Find Face"
    bl_options = {"REGISTER", "UNDO"}
    title = "Finding the face"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Prepare the scan."""
        wearer = gather_wearer(context)
        return prepare_steps(context, wearer, recipe_of(wearer))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Place the landmarks."""
        wearer = gather_wearer(context)
        kept = commit_face(context, wearer, result)
        judge(context, wearer, result)
        name, least = min(result.confidence.items(), key=lambda item: item[1])
        said = f"{len(result.landmarks)} landmarks; least sure: {plain_name(name)}, {100 * least:.0f} %."
        said += f" Orientation scores {wearer.pose_sure:.2f} of 1."
        return said + (f" {kept} stay where you put them." if kept else "")


class SEALWRIGHT_OT_set_landmark(Step, bpy.types.Operator):
    """Put a landmark at the 3D cursor; it sticks to the scan. Set a few by hand when the face is not found"""

    bl_idname = "sealwright.set_landmark"
    bl_label = "Set Landmark at Cursor"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        name: str
    else:
        name: EnumProperty(name="Landmark", items=NAMES, default="sellion")

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Make or move the empty."""
        assert context.scene is not None
        wearer = gather_wearer(context)
        obj = dict(tagged(wearer, PREFIX)).get(self.name) or new_landmark(context, wearer, self.name)
        obj.location = context.scene.cursor.location
        stick_to(wearer, wearer.scan)
        cache.touch()
        return f"{plain_name(self.name)} is set; press Find Face to use it."


class SEALWRIGHT_OT_reset_landmarks(Step, bpy.types.Operator):
    """Put all landmarks back to where they were proposed"""

    bl_idname = "sealwright.reset_landmarks"
    bl_label = "Back to Proposal"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A found face is needed."""
        return need_face(context)

    def run(self, context: bpy.types.Context) -> str:
        """Move the empties; those set by hand without a proposal are removed."""
        wearer = gather_wearer(context)
        for _, obj in list(tagged(wearer, PREFIX)):
            place = obj.get(PROPOSAL)  # type: ignore[no-untyped-call]
            if place is None:
                bpy.data.objects.remove(obj)
            else:
                obj.location = tuple(place)
        cache.touch()
        return "The landmarks are back at the proposal."


class SEALWRIGHT_OT_show_landmark(bpy.types.Operator):
    """Select this landmark and turn the view to it; then drag it (G), it sticks to the skin"""

    bl_idname = "sealwright.show_landmark"
    bl_label = "Show Landmark"
    bl_options = {"REGISTER"}

    if TYPE_CHECKING:
        name: str
    else:
        name: StringProperty(options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """The Latin name and what it means, in the tooltip."""
        return f"{latin(properties.name)}. Select it and turn the view to it; drag it with G"

    def execute(self, context: bpy.types.Context) -> set[Any]:
        """Select and frame."""
        wearer = active_wearer(context)
        obj = dict(tagged(wearer, PREFIX)).get(self.name) if wearer else None
        if obj is None or context.view_layer is None:
            self.report({"ERROR"}, f"There is no landmark {self.name}.")
            return {"CANCELLED"}
        for other in context.view_layer.objects:
            other.select_set(other == obj)
        context.view_layer.objects.active = obj
        place = obj.matrix_world.translation
        frame_place(context, (place[0], place[1], place[2]))
        return {"FINISHED"}


CLASSES = (
    SEALWRIGHT_OT_find_face,
    SEALWRIGHT_OT_set_landmark,
    SEALWRIGHT_OT_reset_landmarks,
    SEALWRIGHT_OT_show_landmark,
)

# SPDX-License-Identifier: GPL-3.0-or-later
"""The last refusal: show its place, or put it away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from ..model.wearers import active_wearer, wearer_mm
from ..view.framing import look_at, looking_from
from ..view.messages import Step, clear_problem, current_problem

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


def frame_place(
    context: bpy.types.Context,
    point: tuple[float, float, float],
    way: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> int:
    """Put the 3D cursor there and turn every 3D view to it, from a direction where one is given.

    How many views there were is given back.
    """
    assert context.scene is not None
    wearer = active_wearer(context)
    mm = wearer_mm(context, wearer) if wearer else 1000.0 * context.scene.unit_settings.scale_length
    context.scene.cursor.location = point
    return look_at(context, point, 120.0 / mm, looking_from(way) if any(way) else None)


class SEALWRIGHT_OT_show_place(bpy.types.Operator):
    """Turn the view to the place of the problem and put the 3D cursor there"""

    bl_idname = "sealwright.show_place"
    bl_label = "Show Place"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """There is a problem with a place."""
        problem = current_problem(context)
        if problem is None or not problem.has_point:
            cls.poll_message_set("There is no problem with a place to show.")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Frame the place."""
        problem = current_problem(context)
        assert problem is not None
        point, view = problem.point, problem.view
        frame_place(context, (point[0], point[1], point[2]), (view[0], view[1], view[2]))
        return {"FINISHED"}


class SEALWRIGHT_OT_dismiss_problem(Step, bpy.types.Operator):
    """Put the message away"""

    bl_idname = "sealwright.dismiss_problem"
    bl_label = "Dismiss"
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> str:
        """Forget the problem."""
        clear_problem(context)
        return ""


CLASSES = (SEALWRIGHT_OT_show_place, SEALWRIGHT_OT_dismiss_problem)

# SPDX-License-Identifier: GPL-3.0-or-later
"""A step that begins with one stroke of mouse or pen on the bare skin; Esc stops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..model.stroke import STROKE
from ..model.wearers import gather_wearer
from ..view.messages import redraw
from . import line_editing
from .click_step import PickStep, clicked_place
from .job import LOOKING

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems
    from numpy.typing import NDArray

ASKED = "Draw on the skin: once round, or a part of the line anew.   Esc cancels"


class StrokeStep(PickStep):
    """Mixin of an operator that asks for a stroke on the scan and then runs with its places.

    Scripts and background runs give the stroke; only `run` changes Blender data.
    """

    cancelled = "Drawing was cancelled; nothing was changed."
    if TYPE_CHECKING:
        stroke: Any

    def places(self) -> NDArray[np.float64]:
        """The stroke (n, 3) in the world."""
        return np.array([element.place[:] for element in self.stroke], dtype=np.float64).reshape(-1, 3)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Bare the skin and wait for the button; without a window take the given stroke."""
        self.by_hand = True
        if bpy.app.background or context.window is None or len(self.stroke):
            return self.execute(context)
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        STROKE.clear()
        line_editing.begin(context, gather_wearer(context), editing=False)
        self._ask_for(context, ASKED)
        return self._begin(context, "PAINT_CROSS")

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Press, draw, let go; looking around stays possible before."""
        if event.type in ("ESC", "RIGHTMOUSE"):
            return self._stopped(context)
        drawing = len(STROKE) > 0
        if event.type == "LEFTMOUSE" and event.value == "RELEASE" and drawing:
            return self._done(context)
        if (event.type == "LEFTMOUSE" and event.value == "PRESS") or (
            event.type in ("MOUSEMOVE", "INBETWEEN_MOUSEMOVE") and drawing
        ):
            place = clicked_place(context, event)
            if place is not None:
                STROKE.append(place)
                redraw(context)
            return {"RUNNING_MODAL"}
        return {"PASS_THROUGH"} if event.type in LOOKING and not drawing else {"RUNNING_MODAL"}

    def _done(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        for place in STROKE:
            self.stroke.add().place = place.tolist()
        self._leave(context)
        return self.execute(context)

    def _leave(self, context: bpy.types.Context) -> None:
        STROKE.clear()
        line_editing.put_back()
        super()._leave(context)

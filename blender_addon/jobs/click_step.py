# SPDX-License-Identifier: GPL-3.0-or-later
"""Steps that begin with clicks on the scan: each is asked for in the view; Esc stops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..model.clicks import (
    ASKED,
    ASKING,
    PLACES,
    hit_on_scan,
    view_under,
)
from ..model.wearers import active_wearer
from ..view.messages import Step, manager_of, redraw
from .job import LOOKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bpy.stub_internal.rna_enums import OperatorReturnItems


def clicked_place(context: bpy.types.Context, event: bpy.types.Event) -> Any:
    """The place (3,) on the scan under the mouse, in the world, or None."""
    from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d

    found = view_under(context, event.mouse_x, event.mouse_y)
    wearer = active_wearer(context)
    scan = wearer.scan if wearer else None
    if found is None or scan is None:
        return None
    region, view = found
    at = (event.mouse_x - region.x, event.mouse_y - region.y)
    origin = np.array(region_2d_to_origin_3d(region, view, at))  # type: ignore[arg-type]
    along = np.array(region_2d_to_vector_3d(region, view, at))  # type: ignore[arg-type]
    return hit_on_scan(scan, context.evaluated_depsgraph_get(), origin, along)


class PickStep(Step):
    """Mixin of an operator that asks for places in the view with the mouse; Esc stops."""

    cancelled = ""  # what is said then

    def _begin(self, context: bpy.types.Context, cursor: str) -> set[OperatorReturnItems]:
        """Take the mouse."""
        if context.window:
            context.window.cursor_modal_set(cursor)  # type: ignore[arg-type]
        manager_of(context).modal_handler_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def _ask_for(self, context: bpy.types.Context, text: str) -> None:
        """Say in the view and in the status bar what is wanted."""
        ASKING[:] = [text]
        if context.workspace:
            context.workspace.status_text_set(text)
        redraw(context)

    def _leave(self, context: bpy.types.Context) -> None:
        """Give the mouse back."""
        ASKING.clear()
        if context.window:
            context.window.cursor_modal_restore()
        if context.workspace:
            context.workspace.status_text_set(None)
        redraw(context)

    def _stopped(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Esc was pressed."""
        self._leave(context)
        self.report({"WARNING"}, self.cancelled)  # type: ignore[attr-defined]
        return {"CANCELLED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender closes the window or loads a file meanwhile."""
        self._leave(context)


class ClickStep(PickStep):
    """Mixin of an operator that asks for three clicks on the scan and then runs with their places.

    Scripts and background runs give the places; only `run` changes Blender data.
    """

    cancelled = "The clicks were cancelled; nothing was changed."
    if TYPE_CHECKING:
        places: Sequence[float]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the clicks one by one; without a window take the given places."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        PLACES.clear()
        self._ask(context)
        return self._begin(context, "CROSSHAIR")

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Each click on the scan is a place; Esc stops; looking around stays possible."""
        if event.type in ("ESC", "RIGHTMOUSE"):
            return self._stopped(context)
        if event.type != "LEFTMOUSE":
            return {"PASS_THROUGH"} if event.type in LOOKING else {"RUNNING_MODAL"}
        if event.value == "PRESS":
            place = clicked_place(context, event)
            if place is not None:
                PLACES.append(place)
            self._ask(context, missed=place is None)
        if len(PLACES) < 3:
            return {"RUNNING_MODAL"}
        self.places = np.concatenate(PLACES).tolist()
        self._leave(context)
        return self.execute(context)

    def _ask(self, context: bpy.types.Context, missed: bool = False) -> None:
        if len(PLACES) < 3:
            text = f"Click {ASKED[len(PLACES)]} ({len(PLACES) + 1} of 3).   Esc cancels"
            self._ask_for(context, ("That was not on the scan. " if missed else "") + text)

    def _leave(self, context: bpy.types.Context) -> None:
        PLACES.clear()
        super()._leave(context)

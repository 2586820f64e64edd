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


class ClickStep(Step):
    """Mixin of an operator that asks for three clicks on the scan and then runs with their places.

    Scripts and background runs give the places; only `run` changes Blender data.
    """

    if TYPE_CHECKING:
        places: Sequence[float]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the clicks one by one; without a window take the given places."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        PLACES.clear()
        context.window.cursor_modal_set("CROSSHAIR")
        manager_of(context).modal_handler_add(self)  # type: ignore[arg-type]
        self._ask(context)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Each click on the scan is a place; Esc stops; looking around stays possible."""
        if event.type in ("ESC", "RIGHTMOUSE"):
            self._leave(context)
            self.report({"WARNING"}, "The clicks were cancelled; nothing was changed.")  # type: ignore[attr-defined]
            return {"CANCELLED"}
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

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender closes the window or loads a file meanwhile."""
        self._leave(context)

    def _ask(self, context: bpy.types.Context, missed: bool = False) -> None:
        if len(PLACES) < 3:
            text = f"Click {ASKED[len(PLACES)]} ({len(PLACES) + 1} of 3).   Esc cancels"
            ASKING[:] = [("That was not on the scan. " if missed else "") + text]
        if context.workspace and ASKING:
            context.workspace.status_text_set(ASKING[0])
        redraw(context)

    def _leave(self, context: bpy.types.Context) -> None:
        PLACES.clear()
        ASKING.clear()
        if context.window:
            context.window.cursor_modal_restore()
        if context.workspace:
            context.workspace.status_text_set(None)
        redraw(context)

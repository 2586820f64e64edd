# SPDX-License-Identifier: GPL-3.0-or-later
"""Three clicks on the scan where the face is not found by itself: outer eye corners and nose tip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from bpy.props import FloatVectorProperty

from ..clicks import ASKED, ASKING, PLACES, hit_on_scan, view_under
from ..job import LOOKING
from ..messages import Step, manager_of, redraw
from ..stages import gather_wearer
from ..state import need_scan, need_wearer
from ..wearers import wearer_mm
from .scan import gather_scan

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class SEALWRIGHT_OT_three_clicks(Step, bpy.types.Operator):
    """Click both outer eye corners and the nose tip on the scan, to say where the face is and which way up"""

    bl_idname = "sealwright.three_clicks"
    bl_label = "Three Clicks"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        places: Sequence[float]
    else:
        places: FloatVectorProperty(size=9, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Keep the three places; the face is to be found from them."""
        from ..core.scan.three_clicks import NAMES, named_clicks

        wearer, mesh = gather_scan(context)
        mm = wearer_mm(context, wearer)
        named = named_clicks(mesh, *(np.array(self.places, dtype=np.float64).reshape(3, 3) * mm))
        wearer.clicks = np.concatenate([named[name] / mm for name in NAMES]).tolist()
        wearer.clicked = True
        wearer.prepared, wearer.stale = False, True
        return "Press Find Face: it begins at your three places."

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
            self.report({"WARNING"}, "The clicks were cancelled; nothing was changed.")
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


def clicked_place(context: bpy.types.Context, event: bpy.types.Event) -> Any:
    """The place (3,) on the scan under the mouse, in the world, or None."""
    from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d

    found = view_under(context, event.mouse_x, event.mouse_y)
    scan = gather_wearer(context).scan
    if found is None or scan is None:
        return None
    region, view = found
    at = (event.mouse_x - region.x, event.mouse_y - region.y)
    origin = np.array(region_2d_to_origin_3d(region, view, at))  # type: ignore[arg-type]
    along = np.array(region_2d_to_vector_3d(region, view, at))  # type: ignore[arg-type]
    return hit_on_scan(scan, context.evaluated_depsgraph_get(), origin, along)


class SEALWRIGHT_OT_forget_clicks(Step, bpy.types.Operator):
    """Forget the three clicks; the face is looked for by itself again"""

    bl_idname = "sealwright.forget_clicks"
    bl_label = "Forget Clicks"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)

    def run(self, context: bpy.types.Context) -> str:
        """Forget them; what was found with them is to be found anew."""
        wearer = gather_wearer(context)
        if wearer.clicked:
            wearer.clicked, wearer.prepared, wearer.stale = False, False, True
        return "The face is looked for by itself again."


CLASSES = (SEALWRIGHT_OT_three_clicks, SEALWRIGHT_OT_forget_clicks)

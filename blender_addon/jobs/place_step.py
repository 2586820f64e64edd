# SPDX-License-Identifier: GPL-3.0-or-later
"""A step that asks for one place on a shape: clicked or dragged in the view, at the 3D cursor, or a face."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from bpy.props import EnumProperty, FloatVectorProperty

from ..core.errors import Where
from ..model.clicks import PLACES, view_under
from ..model.convert import matrix_array
from ..model.placing import face_matrix, part_place, to_world
from ..model.wearers import gather_wearer, tag_of, wearer_mm
from ..view.messages import Refusal, redraw
from ..view.standing import PART
from .click_step import PickStep
from .job import LOOKING

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems
    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

AT = (
    ("CURSOR", "3D Cursor", "At the 3D cursor"),
    ("FACE", "Selected Face", "At the middle of the selected faces of the active mesh"),
    ("CLICK", "Click", "Press on the shape in the view and drag to the place; Esc cancels"),
    ("GIVEN", "Given Place", "At the place that a script gives"),
)
ASKED = "Press on your shape, drag to the place, let go.   Esc cancels"


class PlaceStep(PickStep):
    """Mixin of an operator that asks for one place on a shape and then runs with it.

    Scripts and background runs say where; only `run` changes Blender data.
    """

    cancelled = "Placing was cancelled; nothing was changed."
    if TYPE_CHECKING:
        at: str
        place: Any
    else:
        at: EnumProperty(name="At", items=AT, options={"SKIP_SAVE"})
        place: FloatVectorProperty(size=3, subtype="XYZ", options={"HIDDEN", "SKIP_SAVE"})

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the place where it is to be clicked."""
        self.by_hand = True
        if bpy.app.background or context.window is None or self.at != "CLICK":
            return self.execute(context)
        PLACES.clear()
        self._ask_for(context, ASKED)
        return self._begin(context, "CROSSHAIR")

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """While the button is down the place follows the mouse; looking around stays possible before."""
        if event.type in ("ESC", "RIGHTMOUSE"):
            return self._stopped(context)
        if event.type == "LEFTMOUSE" and event.value == "RELEASE" and PLACES:
            self.place, self.at = tuple(PLACES[-1]), "GIVEN"
            self._leave(context)
            return self.execute(context)
        pressed = event.type == "LEFTMOUSE" and event.value == "PRESS"
        if pressed or (event.type == "MOUSEMOVE" and PLACES):
            found = place_under(context, event)
            if found is not None:
                PLACES[:] = [found]
                redraw(context)
            elif pressed:
                self._ask_for(context, "That was not on your shape. " + ASKED)
            return {"RUNNING_MODAL"}
        return {"PASS_THROUGH"} if event.type in LOOKING else {"RUNNING_MODAL"}

    def _leave(self, context: bpy.types.Context) -> None:
        PLACES.clear()
        super()._leave(context)

    def chosen(self, context: bpy.types.Context) -> Floats:
        """The place (3,) in the face frame, mm.

        Raises
        ------
        Refusal : no face is selected.
        """
        assert context.scene is not None
        found = np.array(self.place, dtype=np.float64)
        if self.at in ("CURSOR", "CLICK"):
            found = np.array(context.scene.cursor.location, dtype=np.float64)
        elif self.at == "FACE":
            found = middle_of_faces(context.active_object)
        return to_world(np.linalg.inv(part_frame(context, gather_wearer(context))), found)


def part_frame(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Floats:
    """Face frame in mm to the world for parts, 4x4, of the face that was found last."""
    mm = wearer_mm(context, wearer)
    scan_to_face = np.linalg.inv(face_matrix(wearer))
    scan_to_face[:3, :3] /= mm
    return part_place(scan_to_face, mm)


def middle_of_faces(obj: bpy.types.Object | None) -> Floats:
    """Middle (3,) in the world of the selected faces of a mesh, weighed by their areas.

    Raises
    ------
    Refusal : there are none.
    """
    mesh = obj.data if obj is not None else None
    if obj is not None and obj.mode == "EDIT":
        obj.update_from_editmode()
    picked = [face for face in mesh.polygons if face.select] if isinstance(mesh, bpy.types.Mesh) else []
    if obj is None or not picked:
        raise Refusal(
            "No face is selected.",
            Where("fitting"),
            "Select a face of your shape in edit mode, or click in the view.",
        )
    middles = np.array([face.center for face in picked], dtype=np.float64)
    return to_world(
        matrix_array(obj.matrix_world), np.average(middles, axis=0, weights=[f.area for f in picked])
    )


def place_under(context: bpy.types.Context, event: bpy.types.Event) -> Any:
    """The place (3,) in the world on a shape or a built part under the mouse, or None."""
    from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d

    found = view_under(context, event.mouse_x, event.mouse_y)
    if found is None or context.scene is None:
        return None
    region, view = found
    at = (event.mouse_x - region.x, event.mouse_y - region.y)
    origin, along = region_2d_to_origin_3d(region, view, at), region_2d_to_vector_3d(region, view, at)  # type: ignore[arg-type]
    hit, place, _, _, obj, _ = context.scene.ray_cast(context.evaluated_depsgraph_get(), origin, along)
    ours = (
        hit
        and obj is not None
        and (tag_of(obj).startswith(PART) or obj.original == gather_wearer(context).model)
    )
    return np.array(place, dtype=np.float64) if ours else None

# SPDX-License-Identifier: GPL-3.0-or-later
"""A step that drags a value of the recipe by its handle in the view; Esc puts it back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..core.errors import Where
from ..model.wearers import gather_wearer
from ..view.handle import Handle
from ..view.handles import handles_of, nearest_value, spoken
from ..view.messages import Refusal, Step, manager_of

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

REACH = 0.25  # of the range of a value, which one move of the mouse can pass


def owner_of(recipe: Any, key: str) -> tuple[Any, str]:
    """The group that holds a value of the recipe, and the value's name in it."""
    *path, name = key.split(".")
    for part in path:
        recipe = recipe[int(part)] if part.isdigit() else getattr(recipe, part)
    return recipe, name


def set_value(owner: Any, name: str, value: float) -> None:
    """Give a value by hand: it is no longer automatic."""
    if getattr(owner, f"{name}_auto", False):
        setattr(owner, f"{name}_auto", False)
    setattr(owner, name, value)


def on_screen(context: bpy.types.Context, way: Floats) -> Floats:
    """Places (k, 3) in the world on the region, (k, 2) in pixels; NaN behind the eye."""
    from bpy_extras.view3d_utils import location_3d_to_region_2d
    from mathutils import Vector

    region, view = context.region, context.region_data
    nowhere = (np.nan, np.nan)
    if region is None or view is None:
        return np.full((len(way), 2), np.nan)
    seen = [location_3d_to_region_2d(region, view, Vector(place)) for place in way.tolist()]
    return np.array([nowhere if place is None else (place[0], place[1]) for place in seen], dtype=np.float64)


class HandleStep(Step):
    """Mixin of an operator that drags one value; scripts give the value."""

    _handle: Handle
    _before: tuple[float, bool]

    if TYPE_CHECKING:
        key: str
        value: float

    def run(self, context: bpy.types.Context) -> str:
        """Set the value."""
        try:
            owner, name = owner_of(gather_wearer(context).recipe, self.key)
            set_value(owner, name, self.value)
        except (AttributeError, IndexError, ValueError) as unknown:
            raise Refusal(
                f"There is no value {self.key}.", Where("handle", key=self.key), "Name a value of the recipe."
            ) from unknown
        return ""

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Take hold of the handle."""
        wearer = gather_wearer(context)
        found = [handle for handle in handles_of(context, wearer, late=True) if handle.key == self.key]
        if not found or context.region_data is None:
            return {"CANCELLED"}
        self._handle = found[0]
        owner, name = owner_of(wearer.recipe, self.key)
        self._before = getattr(owner, name), bool(getattr(owner, f"{name}_auto", False))
        near = np.linalg.norm(self._handle.way - self._handle.at, axis=1).argmin()
        self.value = float(self._handle.values[near])
        manager_of(context).modal_handler_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Follow the mouse until the button is let go."""
        if event.type in ("ESC", "RIGHTMOUSE"):
            self._put_back(context)
            return {"CANCELLED"}
        if event.type == "LEFTMOUSE" and event.value == "RELEASE":
            self._tell(context, None)
            return {"FINISHED"}
        if event.type == "MOUSEMOVE":
            seen = on_screen(context, self._handle.way)
            mouse = np.array([event.mouse_region_x, event.mouse_region_y], dtype=np.float64)
            reach = REACH * float(np.ptp(self._handle.values))
            self.value = nearest_value(self._handle, seen, mouse, self.value, reach)
            self.run(context)
            self._tell(context, f"{spoken(self.key)}: {self.value:.2f}   (Esc puts it back)")
        return {"RUNNING_MODAL"}

    def _put_back(self, context: bpy.types.Context) -> None:
        owner, name = owner_of(gather_wearer(context).recipe, self.key)
        value, automatic = self._before
        setattr(owner, name, value)
        if automatic:
            setattr(owner, f"{name}_auto", True)
        self._tell(context, None)

    def _tell(self, context: bpy.types.Context, text: str | None) -> None:
        if context.area:
            context.area.header_text_set(text)

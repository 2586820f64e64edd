# SPDX-License-Identifier: GPL-3.0-or-later
"""Ports, lugs and cuts on a shape of the maker's own, at a place of its surface."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import EnumProperty, IntProperty

from ..core.errors import Where
from ..jobs.live import value_changed
from ..jobs.place_step import PlaceStep
from ..jobs.state import need_shape
from ..model import cache
from ..model.convert import object_to_trimesh
from ..model.props import defaults, from_data, read_fields
from ..model.quiet import quiet
from ..model.wearers import gather_wearer, wearer_mm
from ..view.messages import Refusal, Step, not_in_list
from .own_shapes import need_other_mesh

KINDS = (
    ("port", "Port", "A thread, a cone, a valve seat or a plain bore"),
    ("lug", "Lug", "A strap lug"),
)


class SEALWRIGHT_OT_stand_fitting(PlaceStep, bpy.types.Operator):
    """Stand a port or a strap lug on the body, or move one; where it has no room the build refuses it"""

    bl_idname = "sealwright.stand_fitting"
    bl_label = "Stand Here"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        kind: str
        index: int
    else:
        kind: EnumProperty(name="Kind", items=KINDS, options={"SKIP_SAVE"})
        index: IntProperty(
            name="Move",
            default=-1,
            min=-1,
            description="Number of the fitting to move",
            options={"SKIP_SAVE"},
        )

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shape of the maker's own, and a found face, whose frame the place is told in."""
        return need_shape(context)

    def run(self, context: bpy.types.Context) -> str:
        """Add or move it."""
        place, rows = self.chosen(context), gather_wearer(context).recipe.fittings
        if self.index >= len(rows):
            raise not_in_list("fitting", self.index)
        with quiet():
            row = rows[self.index] if self.index >= 0 else add_fitting(rows, self.kind)
            row.x_mm, row.y_mm, row.z_mm = (round(float(c), 2) for c in place)
        value_changed(None, context)
        return f"The {row.kind} stands at {row.x_mm:.1f}, {row.y_mm:.1f}, {row.z_mm:.1f} mm; build all parts."


def add_fitting(rows: Any, kind: str) -> Any:
    """A further fitting with every value at its default."""
    (field,) = (field for field in read_fields() if field["name"] == "fittings")
    row = rows.add()
    from_data(row, {**defaults(field["fields"]), "kind": kind}, field["fields"])
    return row


class SEALWRIGHT_OT_remove_fitting(Step, bpy.types.Operator):
    """Take this port or lug off again"""

    bl_idname = "sealwright.remove_fitting"
    bl_label = "Remove Fitting"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        index: int
    else:
        index: IntProperty(name="Number", min=0)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shape of the maker's own is needed."""
        return need_shape(context)

    def run(self, context: bpy.types.Context) -> str:
        """Take it out of the list."""
        rows = gather_wearer(context).recipe.fittings
        if self.index >= len(rows):
            raise not_in_list("fitting", self.index)
        rows.remove(self.index)
        value_changed(None, context)
        return f"{len(rows)} ports and lugs are left."


class SEALWRIGHT_OT_cut_here(Step, bpy.types.Operator):
    """Cut the selected closed mesh out of the body, where it lies; it stays linked and is never changed"""

    bl_idname = "sealwright.cut_here"
    bl_label = "Cut With Selected"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shape of the maker's own, and a mesh object that is not the scan and not one of our parts."""
        return need_shape(context) or need_other_mesh(context)

    def run(self, context: bpy.types.Context) -> str:
        """Link the mesh, once it is known to be a solid."""
        from ..core.own_shapes.modelled import modelled_solid

        wearer, obj = gather_wearer(context), context.active_object
        assert obj is not None
        if obj == wearer.model or any(row.cutter == obj for row in wearer.cutters):
            raise Refusal(
                f"{obj.name} already takes part.",
                Where("cutter", key=obj.name),
                "Select another closed mesh.",
            )
        graph, mm = context.evaluated_depsgraph_get(), wearer_mm(context, wearer)
        found = modelled_solid(object_to_trimesh(obj, graph, mm, "cutter"), "cutter")
        wearer.cutters.add().cutter = obj
        obj.display_type = "WIRE"
        cache.touch()
        return " ".join([f"{obj.name} is cut out of your shape; build all parts.", *found.mended])


class SEALWRIGHT_OT_remove_cutter(Step, bpy.types.Operator):
    """Do not cut with this mesh any more; the mesh stays in the file"""

    bl_idname = "sealwright.remove_cutter"
    bl_label = "Remove Cutter"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        index: int
    else:
        index: IntProperty(name="Number", min=0)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A shape of the maker's own is needed."""
        return need_shape(context)

    def run(self, context: bpy.types.Context) -> str:
        """Unlink it, and show it as a solid again."""
        rows = gather_wearer(context).cutters
        if self.index >= len(rows):
            raise not_in_list("cutter", self.index)
        if rows[self.index].cutter is not None:
            rows[self.index].cutter.display_type = "TEXTURED"
        rows.remove(self.index)
        cache.touch()
        return f"{len(rows)} cutters are left."


CLASSES = (
    SEALWRIGHT_OT_stand_fitting,
    SEALWRIGHT_OT_remove_fitting,
    SEALWRIGHT_OT_cut_here,
    SEALWRIGHT_OT_remove_cutter,
)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Shapes of the maker's own: the outline of a shell, a model that is trimmed, the cage of the chamber."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, CollectionProperty, EnumProperty

from ..core.errors import BadOutline, Where
from ..jobs import line_editing
from ..jobs.cage import commit_cage
from ..jobs.job import JobStep
from ..jobs.stages import cage_steps
from ..jobs.state import need_face, need_mask, need_outline, need_scan
from ..jobs.stroke_step import StrokeStep
from ..model import cache
from ..model.convert import chosen_triangles, object_to_trimesh, selected_triangles
from ..model.own_objects import OWN, TRIM, lines_of, outline_object
from ..model.quiet import quiet
from ..model.rows import SEALWRIGHT_PG_place
from ..model.stroke import drawn
from ..model.wearers import active_wearer, copy_wearer, gather_wearer, scan_of, tag_of, wearer_mm
from ..view.messages import Step
from ..view.outline import draw_outline, onto_scan

if TYPE_CHECKING:
    from ..jobs.job import Steps

SOURCES = (
    (
        "FACES",
        "Selected Faces",
        "The faces that are selected on the scan, in edit mode or before it was left",
    ),
    ("GROUP", "Vertex Group", "What is painted on the scan with a weight of a half and more"),
)


class SEALWRIGHT_OT_draw_outline(StrokeStep, bpy.types.Operator):
    """Draw the outline of a shell on the skin in one stroke, or a new course for a part of it"""

    bl_idname = "sealwright.draw_outline"
    bl_label = "Draw Outline"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        hole: bool
    else:  # the stroke is declared in the mixin
        stroke: CollectionProperty(type=SEALWRIGHT_PG_place, options={"HIDDEN", "SKIP_SAVE"})
        hole: BoolProperty(name="Hole", description="Draw a hole in the shell", options={"SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Put the stroke on the skin as points of the curve."""
        wearer, scan = gather_wearer(context), scan_of(context, gather_wearer(context))
        assert scan is not None
        mm, lines = wearer_mm(context, wearer), lines_of(outline_object(context, wearer))
        before = lines[0] * mm if lines and not self.hole else None
        line = onto_scan(context, scan, drawn(self.places() * mm, before, "outline") / mm)
        if self.hole and not lines:
            raise BadOutline(
                "There is no outline to make a hole in.", Where("hole"), "Draw the outline first."
            )
        lines = [*lines, line] if self.hole else [line, *lines[1:]]
        with quiet():
            draw_outline(context, wearer, lines)
        cache.touch()
        return f"The shell has an outline of {len(lines[0])} points and {len(lines) - 1} holes; build it."


class SEALWRIGHT_OT_outline_from(Step, bpy.types.Operator):
    """Take the border of chosen faces of the scan as the outline of a shell; gaps in them become holes"""

    bl_idname = "sealwright.outline_from"
    bl_label = "Outline From"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        source: str
    else:
        source: EnumProperty(name="Source", items=SOURCES)

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Follow the border and draw it as a curve that can be edited."""
        from ..core.own_shapes.outline_of_faces import outline_of_faces

        wearer, scan = gather_wearer(context), scan_of(context, gather_wearer(context))
        assert scan is not None
        mm, group = wearer_mm(context, wearer), scan.vertex_groups.active
        if self.source == "FACES":
            found = outline_of_faces(*selected_triangles(scan, mm))
        elif group is None:
            raise BadOutline(
                f"{scan.name} has no vertex group.",
                Where("outline", key=scan.name),
                "Paint one in weight paint mode, and make it the active one.",
            )
        else:
            found = outline_of_faces(*chosen_triangles(scan, mm, group.name))
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        with quiet():
            draw_outline(context, wearer, [line / mm for line in (found.outline, *found.holes)])
        cache.touch()
        return f"The outline has {len(found.outline)} points; the shell has {len(found.holes)} holes."


class SEALWRIGHT_OT_edit_outline(Step, bpy.types.Operator):
    """Edit the points of the outline on the bare skin: drag them (G), they snap to it; Tab ends editing"""

    bl_idname = "sealwright.edit_outline"
    bl_label = "Edit Outline"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """An outline is needed."""
        return need_outline(context)

    def run(self, context: bpy.types.Context) -> str:
        """Enter edit mode on the curve."""
        wearer = gather_wearer(context)
        obj = outline_object(context, wearer)
        assert obj is not None
        line_editing.enter(context, wearer, obj)
        return "Drag the points; they snap to the skin. Tab ends editing and shows the parts again."


def need_other_mesh(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the selected mesh can be a model, a cage or a cutter."""
    obj, wearer = context.active_object, active_wearer(context)
    if need_scan(context):
        return need_scan(context)
    if obj is None or obj.type != "MESH" or (wearer is not None and obj == wearer.scan):
        return "Select the mesh that you modelled."
    return "This is a part made here; select the mesh that you modelled." if tag_of(obj) else ""


class SEALWRIGHT_OT_use_model(Step, bpy.types.Operator):
    """Trim the selected mesh to the face: it is taken as it is seen, and never changed itself"""

    bl_idname = "sealwright.use_model"
    bl_label = "Use Selected as Model"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A mesh object that is not the scan and not one of our parts."""
        return need_other_mesh(context)

    def run(self, context: bpy.types.Context) -> str:
        """Link the mesh, once it is known to be a solid."""
        from ..core.own_shapes.modelled import modelled_solid

        wearer, obj = gather_wearer(context), context.active_object
        assert obj is not None
        graph, mm = context.evaluated_depsgraph_get(), wearer_mm(context, wearer)
        found = modelled_solid(object_to_trimesh(obj, graph, mm, "model"))
        said = [f"{obj.name} will be trimmed to the face; build it."]
        with quiet():
            if wearer.recipe.kind != TRIM and wearer.recipe.cushion.kind != "none":
                wearer.recipe.cushion.kind = "none"  # as the command does without a recipe
                said.append("It has no cushion, unless you choose one.")
            wearer.model, wearer.recipe.kind = obj, TRIM
        cache.touch()
        return " ".join([*said, *found.mended])


class SEALWRIGHT_OT_take_cage(JobStep, bpy.types.Operator):
    """Turn the chamber as the program lays it into a coarse cage; shape it by hand, and the body follows"""

    bl_idname = "sealwright.take_cage"
    bl_label = "Chamber to Cage"
    bl_options = {"REGISTER", "UNDO"}
    title = "Taking the cage"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A mask is needed; face and seal line are found on the way."""
        wearer = active_wearer(context)
        if wearer is not None and wearer.recipe.kind == "tube":
            return "A tube has no chamber."
        return need_mask(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Gather and sketch."""
        return cage_steps(context, gather_wearer(context))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write the cage and link it."""
        kept = commit_cage(context, gather_wearer(context), *result)
        said = "Shape the cage with any tool; then build all parts."
        return said + (f" Kept beside it: {', '.join(kept)}." if kept else "")


class SEALWRIGHT_OT_use_cage(Step, bpy.types.Operator):
    """Take the selected mesh as the outer form of the chamber: open at band and port, met once by each ray"""

    bl_idname = "sealwright.use_cage"
    bl_label = "Use Selected as Cage"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A mask, and a mesh object that is not the scan and not one of our parts."""
        wearer = active_wearer(context)
        if wearer is not None and wearer.recipe.kind in (*OWN, "tube"):
            return "Only a mask has a chamber."
        return need_other_mesh(context)

    def run(self, context: bpy.types.Context) -> str:
        """Link it."""
        wearer = gather_wearer(context)
        wearer.cage = context.active_object
        cache.touch()
        return "The chamber follows the mesh; build all parts."


class SEALWRIGHT_OT_add_design(Step, bpy.types.Operator):
    """Add another design for the same wearer: the same scan, landmarks and values, with parts of its own"""

    bl_idname = "sealwright.add_design"
    bl_label = "Add Design"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A found face is needed."""
        return need_face(context)

    def run(self, context: bpy.types.Context) -> str:
        """Copy what belongs to the wearer, not what was made."""
        return f"{copy_wearer(context).name} was added."


CLASSES = (
    SEALWRIGHT_OT_draw_outline,
    SEALWRIGHT_OT_outline_from,
    SEALWRIGHT_OT_edit_outline,
    SEALWRIGHT_OT_use_model,
    SEALWRIGHT_OT_take_cage,
    SEALWRIGHT_OT_use_cage,
    SEALWRIGHT_OT_add_design,
)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Scan: whose it is, which mesh it is, and how long a millimetre is on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import StringProperty

from ..convert import object_to_trimesh
from ..core.errors import BadNumbers, Where
from ..landmarks import stick_to
from ..messages import Step
from ..state import need_scan, need_wearer
from ..trust_rows import forget
from ..units import check_size, plausible_unit
from ..wearers import (
    TAG,
    active_wearer,
    add_wearer,
    scan_of,
    scene_state,
    tag_of,
    tagged,
    wearer_collection,
    wearer_mm,
)

if TYPE_CHECKING:
    from ..core.mesh import TriMesh
    from ..wearers import SEALWRIGHT_PG_wearer

RULER = "ruler:"


def set_scan(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, obj: bpy.types.Object) -> None:
    """Let a wearer have this scan; what was found on the old one is no longer true."""
    if wearer.scan != obj:
        wearer.scan = obj
        wearer.prepared, wearer.stale = False, True
        forget(wearer)
        stick_to(wearer, obj)


class SEALWRIGHT_OT_add_wearer(Step, bpy.types.Operator):
    """Add a wearer to this file, with the default recipe"""

    bl_idname = "sealwright.add_wearer"
    bl_label = "Add Wearer"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        name: str
    else:
        name: StringProperty(name="Name", default="Wearer")

    def run(self, context: bpy.types.Context) -> str:
        """Add the wearer."""
        return f"{add_wearer(context, self.name.strip() or 'Wearer').name} was added."


class SEALWRIGHT_OT_remove_wearer(Step, bpy.types.Operator):
    """Remove the wearer from the list; the scan and all objects stay in the file"""

    bl_idname = "sealwright.remove_wearer"
    bl_label = "Remove Wearer"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)

    def run(self, context: bpy.types.Context) -> str:
        """Take the wearer out and let go of its objects."""
        state, wearer = scene_state(context), active_wearer(context)
        assert wearer is not None
        name = wearer.name
        for _, obj in list(tagged(wearer, "")):
            del obj[TAG]
        state.wearers.remove(state.active)
        state.active = max(0, min(state.active, len(state.wearers) - 1))
        return f"{name} was removed; the objects stay."


class SEALWRIGHT_OT_take_scan(Step, bpy.types.Operator):
    """Use the selected mesh object as the wearer's scan; the mesh itself is never changed"""

    bl_idname = "sealwright.take_scan"
    bl_label = "Use Selected Mesh"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A mesh object that is not one of our parts."""
        obj = context.active_object
        if obj is None or obj.type != "MESH":
            return "Select the mesh object of the scanned face."
        return "This is a part made here, not a scan; select the scanned face." if tag_of(obj) else ""

    def run(self, context: bpy.types.Context) -> str:
        """Take the active mesh; a file without wearers gets its first."""
        obj = context.active_object
        assert obj is not None
        object_to_trimesh(obj, context.evaluated_depsgraph_get(), 1.0)  # refuse what has no surface
        wearer = active_wearer(context) or add_wearer(context, "Wearer")
        set_scan(context, wearer, obj)
        return f"{obj.name} is the scan of {wearer.name}."


class SEALWRIGHT_OT_use_fitting_unit(Step, bpy.types.Operator):
    """Set the scan's unit to the one in which it is the size of a face"""

    bl_idname = "sealwright.use_fitting_unit"
    bl_label = "Use Fitting Unit"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Set the unit, or say that none fits."""
        wearer, mesh = gather_scan(context)
        mm = wearer_mm(context, wearer)
        unit = plausible_unit(float(mesh.extents.max()), wearer.unit, mm)
        if unit is None:
            check_size(mesh, "MEASURED")
            return "The scan already has the size of a face."
        wearer.unit = unit
        return f"One unit of the scan is now 1 {unit.lower()}."


def gather_scan(context: bpy.types.Context) -> tuple[SEALWRIGHT_PG_wearer, TriMesh]:
    """The active wearer and its scan as a core mesh in mm."""
    wearer = active_wearer(context)
    assert wearer is not None
    obj = scan_of(context, wearer)
    assert obj is not None
    return wearer, object_to_trimesh(obj, context.evaluated_depsgraph_get(), wearer_mm(context, wearer))


class SEALWRIGHT_OT_add_ruler(Step, bpy.types.Operator):
    """Lay two ruler points on the scan; drag them to two places whose true distance you know"""

    bl_idname = "sealwright.add_ruler"
    bl_label = "Lay Ruler"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Two empties held by the skin, a third of the scan's size apart."""
        wearer, mesh = gather_scan(context)
        mm = wearer_mm(context, wearer)
        centre, size = mesh.bounds.mean(axis=0) / mm, float(mesh.extents.max()) / mm
        for end, sign in (("a", -1.0), ("b", 1.0)):
            obj = dict(tagged(wearer, RULER)).get(end)
            if obj is None:
                obj = bpy.data.objects.new(f"{wearer.name} ruler {end}", None)
                obj[TAG] = RULER + end
                obj.constraints.new("SHRINKWRAP").name = "Skin"
                wearer_collection(context, wearer).objects.link(obj)
            obj.empty_display_size, obj.show_in_front = 0.02 * size, True
            obj.location = tuple(centre + np.array([sign * size / 6.0, 0.0, 0.0]))
            for constraint in obj.constraints:
                if isinstance(constraint, bpy.types.ShrinkwrapConstraint):
                    constraint.target = wearer.scan
        return "Drag both ruler points, type their true distance, then press Set Scale by Ruler."


class SEALWRIGHT_OT_use_ruler(Step, bpy.types.Operator):
    """Set the scan's scale from the two ruler points and their true distance"""

    bl_idname = "sealwright.use_ruler"
    bl_label = "Set Scale by Ruler"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan and both ends of the ruler."""
        wearer = active_wearer(context)
        if wearer is not None and len(dict(tagged(wearer, RULER))) < 2:
            return "Lay the ruler on the scan first."
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Measure between the ruler's ends as they lie on the skin."""
        wearer, length = active_wearer(context), scene_state(context).ruler_mm
        assert wearer is not None
        graph = context.evaluated_depsgraph_get()
        a, b = (np.array(o.evaluated_get(graph).matrix_world.translation) for _, o in tagged(wearer, RULER))
        distance = float(np.linalg.norm(a - b))
        if distance < 1e-9:
            raise BadNumbers(
                "Both ruler points lie in the same place.", Where("ruler"), "Drag one to the other place."
            )
        wearer.measured_mm, wearer.unit = length / distance, "MEASURED"
        return f"One unit of the scan is now {length / distance:.4g} mm."


CLASSES = (
    SEALWRIGHT_OT_add_wearer,
    SEALWRIGHT_OT_remove_wearer,
    SEALWRIGHT_OT_take_scan,
    SEALWRIGHT_OT_use_fitting_unit,
    SEALWRIGHT_OT_add_ruler,
    SEALWRIGHT_OT_use_ruler,
)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Scan: whose it is, which mesh it is, and what its unit is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
from bpy.props import StringProperty

from ..core.errors import NoSurface, Where
from ..jobs.job import warm
from ..jobs.state import need_scan, need_wearer
from ..model import cache
from ..model.convert import object_to_trimesh
from ..model.landmarks import stick_to
from ..model.trust_rows import forget
from ..model.units import (
    FEWEST_TRIANGLES,
    LARGEST_MM,
    SMALLEST_MM,
    UNIT_ITEMS,
    check_size,
    only_unit,
    plausible_unit,
)
from ..model.wearers import (
    TAG,
    active_wearer,
    add_wearer,
    scan_of,
    scene_state,
    tag_of,
    tagged,
    wearer_mm,
)
from ..view.framing import frame_object
from ..view.messages import Step

if TYPE_CHECKING:
    from ..core.mesh import TriMesh
    from ..model.wearers import SEALWRIGHT_PG_wearer


def set_scan(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, obj: bpy.types.Object) -> None:
    """Let a wearer have this scan; what was found on the old one is no longer true."""
    if wearer.scan != obj:
        wearer.scan = obj
        wearer.prepared, wearer.clicked, wearer.scale_said = False, False, ""
        cache.touch()
        wearer.found.clear()
        forget(wearer)
        stick_to(wearer, obj)


def refuse_no_face(mesh: TriMesh, name: str) -> None:
    """Refuse what cannot be a scanned face, by its name.

    Raises
    ------
    NoSurface : it has so few triangles that it is something else, as Blender's default cube.
    """
    if len(mesh.faces) < FEWEST_TRIANGLES:
        raise NoSurface(
            f"{name} has {len(mesh.faces)} triangles: that is no scanned face.",
            Where("scan", key=name),
            "Select the mesh of the scanned face, or import a scan.",
        )


def take_fitting_unit(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, mesh: TriMesh) -> str:
    """Set the unit where the scene's does not make the scan a face and just one does; say so.

    Parameters
    ----------
    mesh : the scan in Blender units.
    """
    longest = float(mesh.extents.max())
    if wearer.unit == "MEASURED" or SMALLEST_MM <= longest * wearer_mm(context, wearer) <= LARGEST_MM:
        return ""
    unit = only_unit(longest)
    if unit is None:
        return " Its size fits no unit, or more than one: set the unit."
    wearer.unit = unit
    label = {key: name for key, name, _ in UNIT_ITEMS}[unit]
    return f" Unit set to {label}: the only one in which it is the size of a face."


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
        mesh = object_to_trimesh(obj, context.evaluated_depsgraph_get(), 1.0)  # refuse what has no surface
        refuse_no_face(mesh, obj.name)
        wearer = active_wearer(context) or add_wearer(context, "Wearer")
        set_scan(context, wearer, obj)
        said = take_fitting_unit(context, wearer, mesh)
        frame_object(context, obj)
        warm()
        return f"{obj.name} is the scan of {wearer.name}.{said}"


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


CLASSES = (
    SEALWRIGHT_OT_add_wearer,
    SEALWRIGHT_OT_remove_wearer,
    SEALWRIGHT_OT_take_scan,
    SEALWRIGHT_OT_use_fitting_unit,
)

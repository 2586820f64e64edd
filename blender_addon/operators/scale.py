# SPDX-License-Identifier: GPL-3.0-or-later
"""Scale: how long a millimetre is on the scan, by a known length or by an object of known size in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import bpy
import numpy as np

from ..jobs.state import need_scan
from ..model.convert import object_to_trimesh, selected_triangles
from ..model.wearers import (
    TAG,
    active_wearer,
    gather_wearer,
    scan_of,
    scene_state,
    tagged,
    wearer_collection,
    wearer_mm,
)
from ..view.messages import Step
from .scan import gather_scan

if TYPE_CHECKING:
    from ..core.mesh import TriMesh
    from ..core.scan.reference.reference_object import FlatReference, ReferenceFit
    from ..model.wearers import SEALWRIGHT_PG_scene, SEALWRIGHT_PG_wearer

RULER = "ruler:"


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
        from ..core.scan.reference.scale import scale_from_length

        wearer, length = gather_wearer(context), scene_state(context).ruler_mm
        graph = context.evaluated_depsgraph_get()
        a, b = (np.array(o.evaluated_get(graph).matrix_world.translation) for _, o in tagged(wearer, RULER))
        found = scale_from_length(scan_in_units(context, wearer), a, b, length)
        text = f"{length:g} mm between the ruler points gives {found.mm_per_unit:.5g} mm per unit."
        return use_scale(wearer, found.mm_per_unit, [text, *(remark.text for remark in found.remarks)])


def scan_in_units(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> TriMesh:
    """The scan in the world's own units, whatever these are."""
    scan = scan_of(context, wearer)
    assert scan is not None
    return object_to_trimesh(scan, context.evaluated_depsgraph_get(), 1.0)


def use_scale(wearer: SEALWRIGHT_PG_wearer, mm_per_unit: float, said: Sequence[str]) -> str:
    """Take a measured scale; the face is to be found anew with it. The sentences stay in the panel."""
    wearer.measured_mm, wearer.unit = mm_per_unit, "MEASURED"
    wearer.scale_said = " ".join(said)  # after the unit, whose change takes old sentences away
    return wearer.scale_said


def wanted_reference(state: SEALWRIGHT_PG_scene) -> FlatReference:
    """The object that the panel names."""
    from ..core.scan.reference.reference_object import CARD
    from ..core.scan.reference.reference_patch import rectangle

    return CARD if state.reference == "CARD" else rectangle(state.reference_long_mm, state.reference_short_mm)


def measure(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> ReferenceFit:
    """Fit the object that the panel names to its marked place on the scan, in the world's own units."""
    from ..core.scan.reference.reference_patch import measured_reference, object_patch

    state, scan = scene_state(context), scan_of(context, wearer)
    assert scan is not None and context.scene is not None
    wanted = wanted_reference(state)
    if state.reference_mark == "SELECTED":
        mesh, faces = selected_triangles(scan, 1.0)
        return measured_reference(mesh, faces, wanted)
    mesh = scan_in_units(context, wearer)
    place = np.array(context.scene.cursor.location)
    return measured_reference(mesh, object_patch(mesh, place, wanted, wearer_mm(context, wearer)), wanted)


class SEALWRIGHT_OT_use_reference(Step, bpy.types.Operator):
    """Set the scan's scale from a flat object of known size that lies in it; both its sides are measured"""

    bl_idname = "sealwright.use_reference"
    bl_label = "Set Scale by Object"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Fit plane and rectangle, report scale and distortion, and take the scale."""
        wearer = gather_wearer(context)
        fit = measure(context, wearer)
        return use_scale(wearer, fit.scale.mm_per_unit, [remark.text for remark in fit.scale.remarks])


CLASSES = (SEALWRIGHT_OT_add_ruler, SEALWRIGHT_OT_use_ruler, SEALWRIGHT_OT_use_reference)

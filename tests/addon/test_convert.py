"""Meshes across the border: modifiers, matrices, mirrored and parented objects, units.

Expected values are analytic: the volume of a cube under a matrix is |det| times its own, and an outward mesh
has positive volume (divergence theorem).
"""

from __future__ import annotations

import bpy
import numpy as np
import pytest


def cube(size: float = 2.0) -> bpy.types.Object:
    bpy.ops.mesh.primitive_cube_add(size=size)
    return bpy.context.object


def seen(ext, obj, mm_per_unit=1.0):
    bpy.context.view_layer.update()
    graph = bpy.context.evaluated_depsgraph_get()
    return ext("model.convert").object_to_trimesh(obj, graph, mm_per_unit)


@pytest.mark.parametrize("scale", [(1, 1, 1), (1, 2, 3), (-2, 1, 1), (-1, -1, -1)])
def test_volume_is_positive_and_scales_by_the_determinant(ext, scale):
    obj = cube()
    obj.scale, obj.rotation_euler, obj.location = scale, (0.3, -0.4, 1.1), (5, -7, 2)
    mesh = seen(ext, obj)
    # float32 matrices and coordinates: six digits of a volume of at most 64
    assert mesh.volume == pytest.approx(8.0 * abs(np.prod(scale)), rel=1e-5)


def test_parent_and_units_count(ext):
    parent = bpy.data.objects.new("parent", None)
    bpy.context.collection.objects.link(parent)
    parent.scale, parent.location = (2, -1, 1), (0, 0, 3)
    obj = cube()
    obj.parent = parent
    mesh = seen(ext, obj, mm_per_unit=1000.0)
    assert mesh.volume == pytest.approx(16e9, rel=1e-5)
    assert mesh.bounds[:, 2] == pytest.approx([2000.0, 4000.0])


def test_modifiers_count_and_the_object_is_untouched(ext):
    obj = cube()
    obj.modifiers.new("mirror", "ARRAY").count = 3
    before = ext("model.convert").geometry_stamp(obj.data)
    mesh = seen(ext, obj)
    assert mesh.volume == pytest.approx(24.0, rel=1e-6)
    assert ext("model.convert").geometry_stamp(obj.data) == before


def test_edit_mode_is_refused(ext):
    obj = cube()
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(ext("core.errors").DesignError) as refusal:
        seen(ext, obj)
    assert refusal.value.code == "edit-mode"


def test_a_mesh_without_faces_is_refused(ext):
    data = bpy.data.meshes.new("points")
    data.from_pydata([(0, 0, 0), (1, 0, 0)], [], [])
    obj = bpy.data.objects.new("points", data)
    bpy.context.collection.objects.link(obj)
    with pytest.raises(ext("core.errors").NoSurface):
        seen(ext, obj)


def test_round_trip_needs_no_repair(ext):
    mesh = seen(ext, cube())
    made = ext("model.convert").mesh_from_trimesh("back", mesh, 10.0)
    assert made.validate() is False  # nothing repaired
    obj = bpy.data.objects.new("back", made)
    bpy.context.collection.objects.link(obj)
    back = seen(ext, obj, 10.0)
    assert np.abs(back.vertices - mesh.vertices).max() < 1e-6  # float32 at 1 mm
    assert np.array_equal(back.faces, mesh.faces)


def test_quads_stay_quads(ext):
    made = bpy.data.meshes.new("quads")
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float)
    ext("model.convert").fill_mesh(made, points, np.array([[0, 1, 2, 3]]))
    assert [len(p.vertices) for p in made.polygons] == [4]
    assert made.validate() is False


def test_stamp_sees_a_moved_point(ext):
    obj = cube()
    before = ext("model.convert").geometry_stamp(obj.data)
    obj.data.vertices[0].co.x += 0.001
    assert ext("model.convert").geometry_stamp(obj.data) != before

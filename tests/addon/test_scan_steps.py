"""Scan panel: every step's poll sentence, success, refusal, undo, redo, renaming, units and scene scale."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import add_head, scene_stamp


def state():
    return bpy.context.scene.sealwright


def wearer():
    return state().wearers[state().active]


def problem():
    return bpy.context.window_manager.sealwright.problem


def refused(call, words: str) -> None:
    with pytest.raises(RuntimeError, match=words):
        call()


def test_poll_says_what_is_missing():
    refused(bpy.ops.sealwright.take_scan, "Select the mesh object")
    refused(bpy.ops.sealwright.add_ruler, "Add a wearer first")
    bpy.ops.sealwright.add_wearer()
    refused(bpy.ops.sealwright.add_ruler, "has no scan")
    add_head()
    bpy.ops.sealwright.take_scan()
    refused(bpy.ops.sealwright.use_ruler, "Lay the ruler")
    refused(bpy.ops.sealwright.show_place, "no problem")


def test_take_scan_makes_the_first_wearer_and_leaves_the_mesh():
    head = add_head()
    before = np.empty(3 * len(head.data.vertices), np.float32)
    head.data.vertices.foreach_get("co", before)
    assert bpy.ops.sealwright.take_scan() == {"FINISHED"}
    assert wearer().scan == head
    after = np.empty_like(before)
    head.data.vertices.foreach_get("co", after)
    assert np.array_equal(before, after)


def test_a_mesh_without_surface_is_refused_and_nothing_changes():
    data = bpy.data.meshes.new("cloud")
    data.from_pydata([(0, 0, 0), (1, 0, 0)], [], [])
    obj = bpy.data.objects.new("cloud", data)
    bpy.context.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    before = scene_stamp()
    refused(bpy.ops.sealwright.take_scan, "points and 0 triangles")
    assert scene_stamp() == before
    assert problem().code == "no-surface"
    assert problem().fix
    bpy.ops.sealwright.dismiss_problem()
    assert problem().what == ""


@pytest.mark.parametrize("name", ["face.stl", "face.ply", "face.obj", "face.glb"])
def test_import_scan(tmp_path, name):
    head = add_head()
    path, kind = str(tmp_path / name), name.rpartition(".")[2]
    if kind == "glb":
        bpy.ops.export_scene.gltf(filepath=path, export_format="GLB")
    else:
        getattr(bpy.ops.wm, f"{kind}_export")(filepath=path)
    count = len(head.data.polygons)
    bpy.data.objects.remove(head)
    assert bpy.ops.sealwright.import_scan(filepath=path) == {"FINISHED"}
    assert len(wearer().scan.data.polygons) == count


def test_import_refuses_what_it_cannot_read(tmp_path):
    before = scene_stamp()
    refused(lambda: bpy.ops.sealwright.import_scan(filepath=str(tmp_path / "none.stl")), "no file")
    (tmp_path / "text.doc").write_text("no scan")
    refused(lambda: bpy.ops.sealwright.import_scan(filepath=str(tmp_path / "text.doc")), "no kind of scan")
    (tmp_path / "bad.stl").write_bytes(b"solid nothing\nendsolid nothing\n")
    refused(lambda: bpy.ops.sealwright.import_scan(filepath=str(tmp_path / "bad.stl")), "bad.stl")
    assert scene_stamp() == before


@pytest.mark.parametrize(("scale", "mm"), [(1.0, 1000.0), (0.001, 1.0), (0.01, 10.0)])
def test_scene_scale_counts(ext, scale, mm):
    bpy.context.scene.unit_settings.scale_length = scale
    add_head(mm_per_unit=mm)
    bpy.ops.sealwright.take_scan()
    assert ext("model.wearers").wearer_mm(bpy.context, wearer()) == pytest.approx(mm)
    _, mesh = ext("operators.scan").gather_scan(bpy.context)
    assert 150.0 < mesh.extents.max() < 400.0  # a head, in mm


def test_fitting_unit():
    add_head(mm_per_unit=1.0)  # a file in mm in a scene in metres: 200 m long as it stands
    bpy.ops.sealwright.take_scan()
    assert bpy.ops.sealwright.use_fitting_unit() == {"FINISHED"}
    assert wearer().unit == "MM"
    assert bpy.ops.sealwright.use_fitting_unit() == {"FINISHED"}  # again: nothing to do
    assert wearer().unit == "MM"


def test_ruler_sets_the_scale(ext):
    add_head(mm_per_unit=1.0)
    bpy.ops.sealwright.take_scan()
    bpy.ops.sealwright.add_ruler()
    ends = dict(ext("model.wearers").tagged(wearer(), "ruler:"))
    ends["a"].location, ends["b"].location = (-30, -60, 20), (30, -60, 20)
    bpy.context.view_layer.update()
    a, b = (ends[e].matrix_world.translation for e in "ab")
    state().ruler_mm = 1.05 * (a - b).length
    bpy.ops.sealwright.use_ruler()
    assert ext("model.wearers").wearer_mm(bpy.context, wearer()) == pytest.approx(1.05, rel=1e-6)


def test_undo_and_redo():
    add_head()
    bpy.ops.ed.undo_push(message="head")
    bpy.ops.sealwright.take_scan("EXEC_DEFAULT", True)
    assert len(state().wearers) == 1
    bpy.ops.ed.undo()
    assert len(state().wearers) == 0
    bpy.ops.ed.redo()
    assert state().wearers[0].scan.name == "head"


def test_renaming_and_deleting_the_scan():
    head = add_head()
    bpy.ops.sealwright.take_scan()
    head.name = "another name"
    assert wearer().scan == head
    bpy.data.objects.remove(head)
    assert wearer().scan is None
    refused(bpy.ops.sealwright.add_ruler, "has no scan")


def test_deleting_by_the_user_counts_as_gone():
    head = add_head()
    bpy.ops.sealwright.take_scan()
    bpy.context.collection.objects.unlink(head)  # what the delete key does: data stays while we point at it
    refused(bpy.ops.sealwright.add_ruler, "has no scan")


def test_removing_a_wearer_keeps_the_objects():
    add_head()
    bpy.ops.sealwright.take_scan()
    bpy.ops.sealwright.add_ruler()
    count = len(bpy.data.objects)
    bpy.ops.sealwright.remove_wearer()
    assert len(state().wearers) == 0
    assert len(bpy.data.objects) == count
    refused(bpy.ops.sealwright.remove_wearer, "Add a wearer first")


def test_show_place_puts_the_cursor_there(ext):
    errors = ext("core.errors")
    add_head()
    bpy.ops.sealwright.take_scan()
    wearer().unit = "MM"
    where = errors.Where("scan", point=(1.0, 2.0, 3.0), frame="scan")
    ext("view.messages").keep_problem(bpy.context, errors.NotAFace("No face.", where, "Scan a face."))
    assert bpy.ops.sealwright.show_place() == {"FINISHED"}
    assert tuple(bpy.context.scene.cursor.location) == pytest.approx((1.0, 2.0, 3.0))


def test_show_place_looks_from_where_the_skin_is_to_be_scanned(ext):
    """A view looks down its own -Z: its +Z is the way to the eye, and it stays upright."""
    from mathutils import Vector

    way = Vector((0.8, -0.6, 0.0))
    turned = ext("view.framing").looking_from(tuple(way))
    assert tuple(turned @ Vector((0.0, 0.0, 1.0))) == pytest.approx(tuple(way), abs=1e-6)
    assert (turned @ Vector((0.0, 1.0, 0.0))).z > 0.99
    errors = ext("core.errors")
    where = errors.Where("seal line", point=(30.0, 20.0, -20.0), view=(0.8, -0.6, 0.0))
    ext("view.messages").keep_problem(bpy.context, errors.OffTheScan("No skin.", where, "Rescan."))
    assert not any(ext("view.messages").window_state(bpy.context).problem.view)  # no face is prepared

"""What is shown is true: every change makes what depends on it stale at once, and Export writes what stands.

Each expectation is about the file itself: the body that a fresh build of the same inputs gives, the bytes of
the STL that was written, the objects in the scene.
"""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest
from scenes import add_head, arrays_of, stale
from test_panels import draw_all

SAME_MM = 1e-4  # single precision at 100 mm is 8e-6


def wearer():
    state = bpy.context.scene.sealwright
    return state.wearers[state.active]


def ours(ext, tag):
    return next(obj for found, obj in ext("model.wearers").tagged(wearer(), "") if found == tag)


@pytest.fixture
def built():
    bpy.context.scene.unit_settings.scale_length = 0.001
    head = add_head()
    bpy.ops.sealwright.take_scan()
    assert bpy.ops.sealwright.build_parts() == {"FINISHED"}
    return head


@pytest.fixture(autouse=True)
def unpredicted(ext, monkeypatch):
    """Nothing is worn: what is written of the parts does not depend on it, and it takes most of the time."""

    def nothing(_design):
        yield from ()

    monkeypatch.setattr(ext("core.jobs.examining"), "predict_steps", nothing)
    monkeypatch.setattr(ext("core.jobs.examining"), "tried_steps", lambda design, _: nothing(design))
    yield
    ext("model.cache").clear("made")
    ext("model.cache").clear("tried")


def exported(tmp_path, **answers) -> dict[str, bytes]:
    """File name -> bytes of an export."""
    state = bpy.context.scene.sealwright
    state.export_folder, state.export_name = str(tmp_path), "{part}"
    assert bpy.ops.sealwright.export_parts(**{"failing": True, **answers}) == {"FINISHED"}
    return {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}


def corners(stl: bytes) -> np.ndarray:
    """Corners (m, 3, 3) of a binary STL: 80 bytes, a count, then 50 bytes a triangle."""
    row = np.dtype([("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")])
    return np.frombuffer(stl, row, offset=84)["p"]


def move_scan(ext):
    wearer().scan.rotation_euler.z += 0.2


def bend_scan(ext):
    wearer().scan.modifiers.new("Smooth", "SMOOTH").iterations = 3


def edit_scan(ext):
    wearer().scan.data.vertices[0].co.x += 1.0
    wearer().scan.data.update()


def move_landmark(ext):
    ours(ext, "landmark:menton").location.z -= 3.0


def move_point(ext):
    ours(ext, "seal line").data.splines[0].bezier_points[0].co.z += 8.0


def type_value(ext):
    wearer().recipe.chamber.wall_mm = 2.8


def say_unit(ext):
    wearer().unit = "CM"


def delete_holder(ext):
    bpy.data.objects.remove(ours(ext, "part:holder"))


def copy_body(ext):
    body = ours(ext, "part:body")
    body.users_collection[0].objects.link(body.copy())


CHANGES = {
    move_scan: "scan changed",
    bend_scan: "scan changed",
    edit_scan: "scan changed",
    say_unit: "scan changed",
    move_landmark: "landmark changed",
    move_point: "line changed",
    type_value: "value changed",
    delete_holder: "holder was deleted",
    copy_body: "2 objects of the body",
}


def test_every_change_makes_the_parts_stale_and_export_refuses(ext, built, tmp_path):
    """One build; each change is undone before the next, and the parts are true again."""
    bpy.ops.sealwright.show_map(kind="gap")
    bpy.ops.ed.undo_push(message="built")
    assert not stale(ext, wearer())
    for change, said in CHANGES.items():
        change(ext)
        why = "; ".join(ext("view.standing").why_stale(bpy.context, wearer()))
        assert said in why, (change.__name__, why)
        if change not in (delete_holder, copy_body):  # these leave checks and maps as true as they were
            assert not ext("view.standing").checks_current(bpy.context, wearer())
            assert ext("view.overlay").visible_map_is_stale(bpy.context, wearer())
        draw_all(ext)  # every panel says so without a traceback
        ext("jobs.state").next_step(bpy.context)
        with pytest.raises(RuntimeError, match="build again"):
            bpy.ops.sealwright.export_parts(failing=True)
        bpy.ops.ed.undo_push(message="changed")
        bpy.ops.ed.undo()
        assert not stale(ext, wearer()), change.__name__


def test_a_moved_point_stays_where_it_was_put(ext, built):
    """Also when a landmark turns the face frame: the line stays where it lies in the world."""
    line = ours(ext, "seal line")
    line.data.splines[0].bezier_points[0].co.z += 3.0
    apart = []
    for lift in (0.0, 6.0):
        ours(ext, "landmark:sellion").location.z += lift
        bpy.ops.sealwright.preview_body()
        body = ours(ext, "preview")
        place = np.array(body.matrix_world)
        points = np.array([p.co[:] for p in line.data.splines[0].bezier_points])
        inside = (points - place[:3, 3]) @ place[:3, :3]
        apart.append(np.linalg.norm(arrays_of(body)[None] - inside[:, None], axis=2).min(axis=1))
    # half the spacing of the preview's points along the band; the frame itself moves by 6 mm
    assert apart[1] == pytest.approx(apart[0], abs=2.0)


def test_export_writes_parts_as_they_were_edited_or_leaves_them_out(ext, built, tmp_path):
    """A wider holder is written wider; a body off the face is said to lie off it and to miss its holder."""
    holder, body = ours(ext, "part:holder"), ours(ext, "part:body")
    plain = exported(tmp_path / "plain")
    holder.scale.x = 1.2
    body.location.y -= 2.0
    with pytest.raises(RuntimeError, match="Changed by hand"):
        exported(tmp_path / "asked")
    assert not (tmp_path / "asked").exists()
    edited = exported(tmp_path / "edited", edited="AS_EDITED")
    made = corners(edited["holder.stl"]).reshape(-1, 3)
    points = arrays_of(holder) * [1.2, 1.0, 1.0]
    assert made.min(axis=0) == pytest.approx(points.min(axis=0), abs=1e-3)
    assert made.max(axis=0) == pytest.approx(points.max(axis=0), abs=1e-3)
    assert np.ptp(made[:, 0]) > 1.1 * np.ptp(corners(plain["holder.stl"]).reshape(-1, 3)[:, 0])
    before, after = (json.loads(files["fit-report.json"]) for files in (plain, edited))
    assert "Changed by hand" in json.dumps(after["remarks"])
    fits = [row["verdict"] for row in after["verdicts"] if row["key"] == "assembly.overlap_mm3"]
    assert fits == ["fail"]  # 1.2 times as wide, its thread no longer goes round the port
    # a surface opens by the move times the forward part of its normal: at most 2 mm, less at the sides
    assert 0.5 < after["contact"]["gap_median_mm"] - before["contact"]["gap_median_mm"] < 2.0
    body.location.y += 2.0
    out = exported(tmp_path / "out", edited="LEAVE_OUT")
    assert "holder.stl" not in out
    assert out["body.stl"] == plain["body.stl"]


def test_an_unsound_edit_is_refused(ext, built, tmp_path):
    import bmesh

    body = ours(ext, "part:body")
    made = bmesh.new()
    made.from_mesh(body.data)
    made.faces.ensure_lookup_table()
    bmesh.ops.delete(made, geom=made.faces[:1], context="FACES_ONLY")
    made.to_mesh(body.data)
    made.free()
    with pytest.raises(RuntimeError, match="not a sound solid"):
        exported(tmp_path / "hole", edited="AS_EDITED")
    assert not (tmp_path / "hole").exists()


def test_failing_checks_ask_first(ext, built, tmp_path):
    row = wearer().checks[0]
    row.verdict = "fail"
    state = bpy.context.scene.sealwright
    state.export_folder, state.export_name = str(tmp_path / "out"), "{part}"
    with pytest.raises(RuntimeError, match="Checks that fail"):
        bpy.ops.sealwright.export_parts()
    assert not (tmp_path / "out").exists()


def test_a_part_of_another_version_is_not_exported_under_these_values(ext, built, tmp_path):
    """The stamp says unedited, yet it is not what a build gives: an older version of the program wrote it."""
    body = ours(ext, "part:body")
    body.data.vertices[0].co.x += 0.5
    body.data["sealwright_stamp"] = ext("model.convert").geometry_stamp(body.data)
    with pytest.raises(RuntimeError, match="another version"):
        exported(tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_messages_and_marks_belong_to_one_state(ext, built):
    line, marks = ours(ext, "seal line"), ext("view.line_marks")
    messages = ext("view.messages")
    marks.look(bpy.context)
    assert marks.drawn_line(bpy.context, wearer()) is not None
    line.data.splines[0].bezier_points[0].co.z += 8.0
    assert marks.drawn_line(bpy.context, wearer()) is None  # until the next look
    assert not marks.marks_of(bpy.context, wearer())
    wearer().recipe.ports[0].connection.bore_mm = 45.0
    with pytest.raises(RuntimeError):
        bpy.ops.sealwright.build_parts()
    assert messages.current_problem(bpy.context) is not None
    wearer().recipe.ports[0].connection.bore_mm = 28.0
    assert messages.current_problem(bpy.context) is None


def test_another_file_and_another_scene_show_nothing_of_the_last(ext, built, tmp_path):
    marks, messages = ext("view.line_marks"), ext("view.messages")
    marks.look(bpy.context)
    path = str(tmp_path / "job.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    wearer().recipe.ports[0].connection.bore_mm = 45.0
    with pytest.raises(RuntimeError):
        bpy.ops.sealwright.build_parts()
    bpy.ops.wm.open_mainfile(filepath=path)
    assert messages.current_problem(bpy.context) is None
    assert not stale(ext, wearer())  # what was saved is still what its inputs give
    marks.look(bpy.context)
    assert marks.drawn_line(bpy.context, wearer()) is not None
    other = bpy.data.scenes.new("Other")
    bpy.context.window.scene = other
    assert ext("model.wearers").active_wearer(bpy.context) is None
    assert ext("view.overlay").visible_legend(bpy.context) is None


def test_the_cushion_is_shown_and_not_exported(ext, built, tmp_path):
    """The default is a strip of foam: as thick as the recipe says, between the band and the skin."""
    soft = ours(ext, "cushion")
    assert not soft.hide_get()
    assert soft.data.materials[0] != ours(ext, "part:body").data.materials[0]
    points = arrays_of(soft).astype(np.float64)
    prepared = ext("model.cache").remembered("prepared", wearer().face_from)
    apart = np.abs(prepared.face.height_of(points))
    # worn it is pressed to less than it is thick; where the skin folds it is thicker than the space
    assert 0.3 * wearer().recipe.cushion.thickness_mm < np.median(apart[apart > 0.1])
    assert apart.max() < 3.0 * wearer().recipe.cushion.thickness_mm
    wearer().cushion_shown = False
    assert soft.hide_get()
    wearer().cushion_shown = True
    assert not soft.hide_get()
    assert not any("cushion" in name and name.endswith(".stl") for name in exported(tmp_path))
    bpy.ops.sealwright.show_map(kind="gap")
    assert soft.hide_get()


def test_a_face_is_taken_with_its_unit_and_a_cube_is_not(ext):
    """A head 0.3 units high fits metres alone; one of 20 units fits centimetres and inches: not guessed."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    bpy.ops.mesh.primitive_cube_add()
    with pytest.raises(RuntimeError, match="Cube has 12 triangles: that is no scanned face"):
        bpy.ops.sealwright.take_scan()
    assert len(bpy.context.scene.sealwright.wearers) == 0
    add_head(mm_per_unit=1000.0)
    bpy.ops.sealwright.take_scan()
    assert wearer().unit == "M"
    bpy.ops.sealwright.add_wearer(name="Ben")
    add_head(mm_per_unit=14.0)
    bpy.ops.sealwright.take_scan()
    assert wearer().unit == "SCENE"
    bpy.ops.sealwright.add_wearer(name="Cleo")
    add_head()
    bpy.ops.sealwright.take_scan()
    assert wearer().unit == "SCENE"  # it is a face in the scene's own unit


def test_editing_the_line_bares_the_skin_and_puts_all_back(ext, built):
    tools, editing = bpy.context.scene.tool_settings, ext("jobs.line_editing")
    before = (tools.use_snap, set(tools.snap_elements), tools.use_snap_edit)
    assert bpy.ops.sealwright.edit_seal_line() == {"FINISHED"}
    assert tools.snap_elements == {"FACE"}
    assert ours(ext, "part:holder").hide_get()
    assert ours(ext, "cushion").hide_get()
    assert not editing.ended(bpy.context)
    bpy.ops.object.mode_set(mode="OBJECT")
    assert editing.ended(bpy.context)
    editing.put_back()  # what the timer calls in a window
    assert (tools.use_snap, set(tools.snap_elements), tools.use_snap_edit) == before
    assert not ours(ext, "part:holder").hide_get()
    assert not ours(ext, "cushion").hide_get()
    assert ours(ext, "map:gap").hide_get()
    assert not stale(ext, wearer())  # nothing was moved

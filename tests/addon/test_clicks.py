"""Three clicks: where a click meets the skin; the face found from rough ones; refused, forgotten, told."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from scenes import add_head, head_arrays, scene_stamp
from test_trust import Reader

NAMES = ("exocanthion_left", "exocanthion_right", "pronasale")
ROUGH_MM = 6.0  # how far careless clicks are off


def wearer():
    state = bpy.context.scene.sealwright
    return state.wearers[state.active]


def problem():
    return bpy.context.window_manager.sealwright.problem


@pytest.fixture
def head():
    bpy.context.scene.unit_settings.scale_length = 0.001
    obj = add_head()
    bpy.ops.sealwright.take_scan()
    return obj


def rough(matrix=None, names=NAMES) -> list[float]:
    """The true places in the world, each off by 6 mm in some direction."""
    matrix = np.eye(4) if matrix is None else np.array(matrix)
    off = np.random.default_rng(5).normal(size=(3, 3))
    off *= ROUGH_MM / np.linalg.norm(off, axis=1, keepdims=True)
    places = np.array([head_arrays()[2][name] for name in names]) + off
    return (places @ matrix[:3, :3].T + matrix[:3, 3]).ravel().tolist()


def panel(ext) -> str:
    layout = Reader()
    ext("ui.panels").SEALWRIGHT_PT_landmarks().content(layout, bpy.context)
    return " ".join(layout.said)


def placed(ext, name) -> np.ndarray:
    return ext("model.landmarks").world_landmarks(bpy.context, wearer())[name]


def test_rough_clicks_give_the_pose_and_landmarks_are_still_sought(ext, head):
    turned = Matrix.Translation((40, 9, -70)) @ Matrix.Rotation(2.5, 4, "Y") @ Matrix.Rotation(1.2, 4, "X")
    head.matrix_world = turned
    bpy.context.view_layer.update()
    places = rough(turned)
    bpy.ops.sealwright.three_clicks(places=places)
    assert not wearer().prepared
    assert bpy.ops.sealwright.find_face() == {"FINISHED"}
    truth = np.array(turned @ Matrix.Translation(head_arrays()[2]["pronasale"].tolist()))[:3, 3]
    # 4 mm: what the core's confidence speaks of; the click itself was 6 mm off
    assert np.linalg.norm(placed(ext, "pronasale") - truth) < 4.0
    assert np.linalg.norm(placed(ext, "pronasale") - places[6:]) > 2.0
    assert 0.5 <= wearer().pose_sure <= 1.0
    said = panel(ext)
    assert f"Orientation from your three clicks: score {wearer().pose_sure:.2f} of 1." in said
    assert "The pose was taken from given points." in said


def test_the_eyes_may_be_clicked_in_either_order(ext, head):
    places = rough()
    bpy.ops.sealwright.three_clicks(places=places)
    first = tuple(wearer().clicks)
    bpy.ops.sealwright.three_clicks(places=places[3:6] + places[:3] + places[6:])
    assert tuple(wearer().clicks) == first
    assert first[0] > 0.0 > first[3]  # the wearer's left is at +X


@pytest.mark.parametrize("names", [("pronasale", *NAMES[:2]), ("pronasale",) * 3])
def test_a_nose_for_an_eye_is_refused_and_nothing_changes(head, names):
    before = scene_stamp()
    places = rough(names=names) if len(set(names)) == 3 else [0.0, -20.0, 10.0] * 3
    with pytest.raises(RuntimeError, match="clicked"):
        bpy.ops.sealwright.three_clicks(places=places)
    assert scene_stamp() == before
    assert problem().code == "landmark" and "Click again" in problem().fix
    assert tuple(problem().point) == pytest.approx(places[6:])


def test_clicks_make_no_face_of_a_ball():
    """What is clicked on is still looked at: a ball has no nose."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    bpy.ops.mesh.primitive_uv_sphere_add(segments=64, ring_count=32, radius=90)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    back = [p.center.y > 40.0 for p in bpy.context.active_object.data.polygons]
    bpy.context.active_object.data.polygons.foreach_set("select", back)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.delete(type="FACE")
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.sealwright.take_scan()
    with pytest.raises(RuntimeError):
        bpy.ops.sealwright.find_face()
    assert problem().code == "not-a-face"
    places = np.array([[45.0, -60, 50], [-45.0, -60, 50], [0, -90, 0]])
    places *= 90.0 / np.linalg.norm(places, axis=1, keepdims=True)
    before = scene_stamp()
    with pytest.raises(RuntimeError, match="No nose stands out"):
        bpy.ops.sealwright.three_clicks(places=places.ravel().tolist())
    assert scene_stamp() == before and not wearer().clicked


def test_forgotten_clicks_count_no_longer(ext, head):
    bpy.ops.sealwright.find_face()
    alone, sure = dict(ext("model.landmarks").world_landmarks(bpy.context, wearer())), wearer().pose_sure
    assert "Orientation from the shape of the face" in panel(ext)
    bpy.ops.sealwright.three_clicks(places=rough())
    bpy.ops.sealwright.find_face()
    bpy.ops.sealwright.forget_clicks()
    assert not wearer().prepared
    bpy.ops.sealwright.find_face()
    assert wearer().pose_sure == sure
    for name, place in alone.items():
        assert placed(ext, name) == pytest.approx(place, abs=1e-4), name


def test_clicks_are_undone(head):
    bpy.ops.ed.undo_push(message="scan")
    bpy.ops.sealwright.three_clicks("EXEC_DEFAULT", True, places=rough())
    bpy.ops.ed.undo()
    assert not wearer().clicked
    bpy.ops.ed.redo()
    assert wearer().clicked


@pytest.mark.parametrize("scale", [(1, 1, 1), (-1, 1, 1), (2, 2, 2)], ids=["plain", "mirrored", "scaled"])
def test_a_click_meets_the_skin_in_front(ext, head, scale):
    head.matrix_world = Matrix.Translation((5, 6, 7)) @ Matrix.Diagonal((*scale, 1))
    bpy.context.view_layer.update()
    tip = np.array(head.matrix_world) @ np.append(head_arrays()[2]["pronasale"], 1.0)
    graph, before = bpy.context.evaluated_depsgraph_get(), tip[:3] - np.array([0.0, 300.0, 0.0])
    hit = ext("model.clicks").hit_on_scan(head, graph, before, np.array([0.0, 1.0, 0.0]))
    assert hit == pytest.approx(tip[:3], abs=1.0 * max(scale))  # the tip lies within a 2 mm triangle
    assert ext("model.clicks").hit_on_scan(head, graph, before, np.array([0.0, -1.0, 0.0])) is None


def test_what_was_mended_is_said_where_the_face_is_found(ext, head):
    head.data.flip_normals()
    bpy.ops.sealwright.find_face()
    remarks = [row.name for row in wearer().found]
    assert any("inside" in text or "inward" in text for text in remarks), remarks
    assert all(text[:20] in panel(ext) for text in remarks)


def test_clicks_on_a_scan_in_metres(ext):
    add_head(mm_per_unit=1000.0)
    bpy.ops.sealwright.take_scan()
    wearer().unit = "M"
    places = (np.array(rough()) / 1000.0).tolist()
    bpy.ops.sealwright.three_clicks(places=places[3:6] + places[:3] + places[6:])
    assert tuple(wearer().clicks) == pytest.approx(places, abs=1e-6)
    assert bpy.ops.sealwright.find_face() == {"FINISHED"}
    away = np.linalg.norm(placed(ext, "pronasale") * 1000.0 - head_arrays()[2]["pronasale"])
    assert away < 4.0  # as above

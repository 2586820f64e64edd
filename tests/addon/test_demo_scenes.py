"""The demonstration scenes are built, opened again and rebuilt to the same body."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import head_arrays

SOURCE = Path(__file__).resolve().parents[2] / "demo_scenes" / "scenes.py"


def load_scenes():
    """The script, under a name of its own: the tests have a module ``scenes`` too."""
    import sys

    spec = importlib.util.spec_from_file_location("demo_scene_builder", SOURCE)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


DEMO = load_scenes()
MAIN = ("part:body", "part:tube", "part:shell")


def body_points() -> np.ndarray:
    (obj,) = (o for o in bpy.data.objects if o.get("sealwright") in MAIN)
    points = np.empty(3 * len(obj.data.vertices), np.float32)
    obj.data.vertices.foreach_get("co", points)
    return points


def assert_looks_at_the_face(ext):
    """What the scene does in a window once it is opened, here without waiting."""
    assert bpy.context.scene.sealwright.greet
    ext("jobs.greeting").look(bpy.context)
    matrix = ext("model.placing").face_matrix(bpy.context.scene.sealwright.wearers[0])
    areas = [a for w in bpy.context.window_manager.windows for a in w.screen.areas if a.type == "VIEW_3D"]
    assert areas
    for area in areas:
        view = area.spaces.active.region_3d
        eye = np.array(view.view_rotation.to_matrix())[:, 2] * view.view_distance + view.view_location
        there = np.linalg.inv(matrix) @ [*eye, 1.0]
        # the nose points along -Y of the face frame, and its tip lies less than 60 mm before the origin
        assert there[1] < -200.0 and area.spaces.active.clip_end > view.view_distance


@pytest.mark.parametrize("scene", DEMO.SCENES, ids=lambda scene: scene.name)
def test_scene(ext, scene, tmp_path):
    vertices, faces, _ = head_arrays(scene.wearer.lower() if scene.wearer == "Tinka" else "head")
    DEMO.build_scene(scene, vertices, faces)
    before = body_points()
    path = str(tmp_path / f"{scene.name}.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path, compress=True)
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert np.array_equal(body_points(), before)
    assert ext("jobs.state").next_step(bpy.context)[1] == "export_parts"
    assert_looks_at_the_face(ext)
    assert bpy.ops.sealwright.build_parts() == {"FINISHED"}
    assert np.array_equal(body_points(), before)
    parts = {o["sealwright"] for o in bpy.data.objects if str(o.get("sealwright", "")).startswith("part:")}
    if scene.preset == "half-mask-with-valve":
        assert len(parts) >= 3  # body, holder, and what belongs to the valve

"""Handles in the view: they stand on the shape that is shown, and a drag is one step of the undo history."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import after


@pytest.fixture
def shown(ext):
    return after("take_scan", "find_face", "preview_body")


def handles(ext, wearer) -> dict:
    return {handle.key: handle for handle in ext("view.handles").handles_of(bpy.context, wearer)}


def test_every_value_has_its_handle_and_stands_at_it(ext, shown):
    found = handles(ext, shown)
    assert set(found) == {
        "ports.0.front_mm",
        "ports.0.tilt_deg",
        "ports.0.turn_deg",
        "straps.upper_share",
        "straps.lower_share",
        "straps.up_the_wall_mm",
        "band.width_mm",
    }
    body = next(o for tag, o in ext("model.wearers").tagged(shown, "preview"))
    for handle in found.values():
        # the way passes through the handle: to a step of it, 1/120 of its range
        step = np.linalg.norm(np.diff(handle.way, axis=0), axis=1).max()
        assert np.linalg.norm(handle.way - handle.at, axis=1).min() <= max(step, 3.0)
        if handle.key in ("straps.upper_share", "straps.lower_share", "band.width_mm"):
            there = np.linalg.inv(np.array(body.matrix_world))
            local = there[:3, :3] @ handle.at + there[:3, 3]
            _, near, _, _ = body.closest_point_on_mesh(tuple(local))
            assert np.linalg.norm(np.array(near) - local) < 1.0  # on the wall or on the edge of the band, mm


@pytest.mark.parametrize("key", ["ports.0.tilt_deg", "ports.0.turn_deg", "band.width_mm"])
def test_a_handle_moves_as_its_value_moves(ext, shown, key):
    """Two shapes of the core, built for two values, against the way laid out from the first of them."""
    port = shown.recipe.ports[0]
    for name in ("tilt_deg", "raise_mm"):  # where they are automatic the port also hangs elsewhere
        setattr(port, f"{name}_auto", False)
    port.further_out, port.front_mm = False, 40.0
    bpy.ops.sealwright.preview_body()
    before = handles(ext, shown)[key]
    value = {"ports.0.tilt_deg": 21.0, "ports.0.turn_deg": 6.0, "band.width_mm": 18.0}[key]
    bpy.ops.sealwright.move_handle(key=key, value=value)
    bpy.ops.sealwright.preview_body()
    after = handles(ext, shown)[key]
    wanted = np.array([np.interp(value, before.values, before.way[:, axis]) for axis in range(3)])
    # a band bends with the skin, its way is straight; a port turns about the point of the core's own formula
    assert np.linalg.norm(after.at - wanted) < (1.5 if key == "band.width_mm" else 0.5)


def test_a_drag_finds_the_value_under_the_mouse(ext):
    module = ext("view.handles")
    values = np.linspace(0.0, 10.0, 11)
    way = np.stack([values * 20.0, 0.0 * values, 0.0 * values], axis=1)
    handle = module.Handle("band.width_mm", values, way, way[0])
    seen = way[:, :2]
    assert abs(module.nearest_value(handle, seen, np.array([73.0, 40.0]), 3.0, 5.0) - 3.65) < 1e-9
    seen[8] = np.nan  # behind the eye
    assert module.nearest_value(handle, seen, np.array([160.0, 0.0]), 7.0, 5.0) <= 7.0
    seen[:] = np.nan
    assert module.nearest_value(handle, seen, np.array([160.0, 0.0]), 7.0, 5.0) == 7.0


def test_a_drag_is_one_step_and_takes_automatic_off(ext, shown):
    assert shown.recipe.ports[0].tilt_deg_auto
    bpy.ops.ed.undo_push(message="start")
    bpy.ops.sealwright.move_handle("EXEC_DEFAULT", True, key="ports.0.tilt_deg", value=25.0)
    port = bpy.context.scene.sealwright.wearers[0].recipe.ports[0]
    assert port.tilt_deg == 25.0 and not port.tilt_deg_auto
    assert handles(ext, bpy.context.scene.sealwright.wearers[0]) == {}  # the shape that stands is of before
    bpy.ops.ed.undo()
    port = bpy.context.scene.sealwright.wearers[0].recipe.ports[0]
    assert port.tilt_deg_auto
    assert len(handles(ext, bpy.context.scene.sealwright.wearers[0])) == 7


@pytest.mark.parametrize("step", ["preview_body", "build_parts"])
def test_handles_are_there_again_after_a_file_is_opened(ext, shown, step, tmp_path):
    getattr(bpy.ops.sealwright, step)()
    before = handles(ext, shown)
    path = str(tmp_path / "mask.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    again = bpy.context.scene.sealwright.wearers[0]
    found = handles(ext, again)
    assert found.keys() == before.keys()
    for key, handle in before.items():
        for name in ("at", "way", "values"):
            # single precision in the file: 100 mm to 8e-6 mm
            assert np.abs(getattr(found[key], name) - getattr(handle, name)).max() < 1e-4
    again.recipe.band.width_mm = 15.0  # they belong to what was shown
    ext("model.cache").touch()
    assert handles(ext, again) == {}


def test_an_unknown_value_is_refused(ext, shown):
    with pytest.raises(RuntimeError, match="There is no value ports"):
        bpy.ops.sealwright.move_handle(key="ports.7.tilt_deg", value=1.0)

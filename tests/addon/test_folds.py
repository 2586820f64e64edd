"""The current step's panel opens by itself, and what a hand opens or closes is respected."""

from __future__ import annotations

import bpy
import pytest
from scenes import add_head


def opened(ext) -> set[str]:
    folds = ext("jobs.folds").folds_of(bpy.context)
    return {name for name in ext("jobs.state").STEPS if getattr(folds, name)}


@pytest.fixture(autouse=True)
def untouched(ext):
    """No choice of a hand from another test: panels are of the session, not of the file."""
    folds = ext("jobs.folds").folds_of(bpy.context)
    folds.opened, folds.chosen_at = [False] * len(folds.opened), [-1] * len(folds.opened)
    return folds


def test_the_step_that_comes_next_is_open_and_the_others_closed(ext, tmp_path):
    bpy.context.scene.unit_settings.scale_length = 0.001
    assert opened(ext) == {"scan"}
    add_head()
    found = []
    for step in ("take_scan", "find_face", "lay_seal_line", "preview_body", "build_parts"):
        getattr(bpy.ops.sealwright, step)()
        found.append(opened(ext))
    assert found == [{"landmarks"}, {"landmarks"}, {"seal_line"}, {"body"}, {"checks"}]
    state = bpy.context.scene.sealwright
    state.export_folder = str(tmp_path)
    assert bpy.ops.sealwright.export_parts(failing=True) == {"FINISHED"}
    assert opened(ext) == {"print"}
    assert ext("jobs.state").next_step(bpy.context).operator == ""
    state.wearers[0].recipe.band.width_mm = 15.0
    assert opened(ext) == {"body"}


def test_what_a_hand_opens_stays_while_its_values_are_changed(ext, untouched):
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    for step in ("take_scan", "find_face", "lay_seal_line", "preview_body", "build_parts"):
        getattr(bpy.ops.sealwright, step)()
    untouched.straps = True
    assert opened(ext) == {"checks", "straps"}
    state = bpy.context.scene.sealwright
    state.wearers[0].recipe.straps.upper_share = 0.2  # the parts are out of date: the step goes back
    assert opened(ext) == {"body", "straps"}
    untouched.straps = False
    assert opened(ext) == {"body"}
    untouched.body = False
    assert opened(ext) == set()
    untouched.ports = True
    bpy.ops.sealwright.build_parts()  # forward: the hand's choices were of the step before
    assert opened(ext) == {"checks"}


def test_a_choice_is_no_step_to_undo(ext, untouched):
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    bpy.ops.sealwright.take_scan()
    bpy.ops.ed.undo_push(message="one")
    untouched.scan = True
    bpy.ops.sealwright.find_face("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    assert opened(ext) == {"scan", "landmarks"}

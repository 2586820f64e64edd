"""Two hundred steps in a random order with undo and redo: whatever the order, the file stays consistent.

The seed is fixed, so a failing walk can be walked again. Refusals are part of the walk; a traceback is not.
"""

from __future__ import annotations

import random

import bpy
from scenes import add_head

STEPS = 200


def state():
    return bpy.context.scene.sealwright


def set_value(rng):
    if len(state().wearers):
        state().wearers[state().active].recipe.band.width_mm = rng.choice([10.0, 12.5, 15.0])


def switch_wearer(rng):
    if len(state().wearers):
        state().active = rng.randrange(len(state().wearers))


def rename_something(rng):
    ours = [o for o in bpy.data.objects if "sealwright" in o]
    if ours:
        rng.choice(ours).name = f"renamed {rng.randrange(5)}"


def delete_something(rng):
    ours = [o for o in bpy.data.objects if "sealwright" in o]
    if ours:
        bpy.data.objects.remove(rng.choice(ours))


def move_landmark(rng):
    marks = [o for o in bpy.data.objects if str(o.get("sealwright", "")).startswith("landmark:")]
    if marks:
        rng.choice(marks).location.x += rng.choice([-1.0, 1.0])


def select_head(_rng):
    heads = [o for o in bpy.data.objects if o.type == "MESH" and "sealwright" not in o]
    bpy.context.view_layer.objects.active = heads[0] if heads else None


def take_recipe(_rng):
    if len(state().wearers) > 1 and state().active != 0:
        bpy.ops.sealwright.take_recipe("EXEC_DEFAULT", True, wearer="0")


def leave_edit_mode(_rng):
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")


def call(name, /, **arguments):
    def step(_rng):
        getattr(bpy.ops.sealwright, name)("EXEC_DEFAULT", True, **arguments)

    return step


STEPS_BY_WEIGHT = [
    (4, call("find_face")),
    (6, call("lay_seal_line")),
    (8, call("preview_body")),
    (1, call("build_parts")),
    (3, call("smooth_seal_line")),
    (3, call("mirror_seal_line", keep="LEFT")),
    (3, call("add_seal_point")),
    (3, call("remove_seal_point")),
    (2, call("reset_landmarks")),
    (2, call("set_landmark", name="pogonion")),
    (2, call("add_port")),
    (3, call("remove_port")),
    (2, call("add_wearer", name="Ada")),
    (1, call("remove_wearer")),
    (5, call("take_scan")),
    (3, call("add_ruler")),
    (2, call("show_map", kind="gap")),
    (2, call("use_fitting_unit")),
    (2, call("use_ruler")),
    (2, call("show_check", index=0)),
    (2, call("show_landmark", name="menton")),
    (1, call("apply_preset", preset="dust-half-mask")),
    (1, take_recipe),
    (1, call("edit_seal_line")),
    (2, leave_edit_mode),
    (6, set_value),
    (4, switch_wearer),
    (4, rename_something),
    (3, delete_something),
    (4, move_landmark),
    (5, select_head),
]


def check_consistent(ext):
    """Tags are unique within a wearer, pointers hold, every result has sound mesh data."""
    for wearer in state().wearers:
        tags = [tag for tag, _ in ext("model.wearers").tagged(wearer, "") if not tag.startswith("kept:")]
        assert len(tags) == len(set(tags)), tags
        for _, obj in ext("model.wearers").tagged(wearer, ""):
            if obj.type == "MESH":
                assert obj.data.validate() is False, obj.name
        assert wearer.quality in ("NONE", "PREVIEW", "FINAL")
        ext("core.recipe").recipe_from_json(ext("model.props").to_data(wearer.recipe))
    numbers = [wearer.number for wearer in state().wearers]
    assert len(numbers) == len(set(numbers))
    assert len(state().wearers) == 0 or 0 <= state().active < len(state().wearers)
    ext("jobs.state").next_step(bpy.context)


def test_two_hundred_steps(ext):
    rng = random.Random(20261125)
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    bpy.ops.ed.undo_push(message="start")
    weights, steps = zip(*STEPS_BY_WEIGHT, strict=True)
    refused = done = 0
    for _ in range(STEPS):
        dice = rng.random()
        if dice < 0.12:
            if bpy.ops.ed.undo.poll():
                bpy.ops.ed.undo()
        elif dice < 0.18:
            if bpy.ops.ed.redo.poll():
                bpy.ops.ed.redo()
        else:
            step = rng.choices(steps, weights)[0]
            try:
                step(rng)
                done += 1
            except RuntimeError as refusal:
                assert "Traceback" not in str(refusal), str(refusal)
                refused += 1
            bpy.ops.ed.undo_push(message="step")
        check_consistent(ext)
    assert done > 60
    assert refused > 5

"""Random steps with undo, redo, saving and opening: whatever the order, what is shown as current is true.

The seed is fixed, so a failing walk can be walked again. Refusals are part of the walk; a traceback is not.
After every step what stands as current is held against a build of the same inputs that nothing was kept for
(within 1e-4 mm), against what Export would write, and marks, messages and maps against the state in which
they were made; states are told apart by a digest of the scene itself, not by the extension's own prints.

    SEALWRIGHT_WALK=1000 SEALWRIGHT_WALK_SEED=2 python tests/package/run.py -- -k random_walk
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import tempfile
from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import add_head, arrays_of, stale

STEPS = int(os.environ.get("SEALWRIGHT_WALK", "120"))
SEED = int(os.environ.get("SEALWRIGHT_WALK_SEED", "20261125"))
SAME_MM = 1e-4  # single precision at 100 mm is 8e-6
COARSE_MM = 12.0  # of a handle laid out from the coarse shape of the same values: a port finds another place


def state():
    return bpy.context.scene.sealwright


def set_value(rng):
    if len(state().wearers):
        state().wearers[state().active].recipe.band.width_mm = rng.choice([10.0, 12.5, 15.0])


def own_values(rng):
    """A value set by hand, or one that was set before put back to what it was."""
    if not len(state().wearers):
        return
    recipe = state().wearers[state().active].recipe
    if "own_value" in bpy.context.scene and rng.random() < 0.6:
        key, before = json.loads(bpy.context.scene["own_value"])
        del bpy.context.scene["own_value"]
    else:
        key = rng.choice(["chamber.wall_mm", "straps.upper_share", "ports.1.turn_deg", "ports.0.tilt_deg"])
        before = None
    *path, name = key.split(".")
    if path[0] == "ports" and int(path[1]) >= len(recipe.ports):
        return
    owner = recipe.ports[int(path[1])] if path[0] == "ports" else getattr(recipe, path[0])
    automatic = getattr(owner, f"{name}_auto", False)
    if before is None:
        low, high = LIMITS[key]
        bpy.context.scene["own_value"] = json.dumps([key, [getattr(owner, name), automatic]])
        before = [rng.uniform(low, high), False]
    setattr(owner, name, before[0])
    if f"{name}_auto" in owner.bl_rna.properties:
        setattr(owner, f"{name}_auto", before[1])


LIMITS = {
    "chamber.wall_mm": (2.0, 3.0),
    "straps.upper_share": (0.2, 0.3),
    "ports.1.turn_deg": (-60.0, 60.0),
    "ports.0.tilt_deg": (5.0, 25.0),
}


def put_point_back(_rng):
    """Every point of the line where the proposal had it, by hand."""
    for line in [o for o in bpy.data.objects if o.get("sealwright") == "seal line" and o.mode == "OBJECT"]:
        proposed = np.array(line.data.get("sealwright_proposal", ())).reshape(-1, 3)
        points = line.data.splines[0].bezier_points if line.data.splines else ()
        if len(points) == len(proposed):
            for point, there in zip(points, proposed.tolist(), strict=True):
                point.co = there


def draw_stroke(ext):
    """The line drawn anew, all of it or a part, pushed outwards on the skin."""

    def step(rng):
        wearer = ext("model.wearers").active_wearer(bpy.context)
        line = ext("model.seal_curve").seal_object(bpy.context, wearer) if wearer else None
        if line is None or not line.data.splines:
            return
        points = ext("model.seal_curve").world_points(line)
        centre = points.mean(axis=0)
        if rng.random() < 0.6:
            first = rng.randrange(len(points))
            points = np.roll(points, -first, axis=0)[: max(len(points) // 4, 3)]
        grown = centre + (points - centre) * rng.uniform(0.97, 1.06)
        stroke = [{"name": "", "place": tuple(place)} for place in grown.tolist()]
        bpy.ops.sealwright.draw_seal_line("EXEC_DEFAULT", True, stroke=stroke)

    return step


def drag_handle(ext):
    """A handle of what is shown, to a place a little way along."""

    def step(rng):
        wearer = ext("model.wearers").active_wearer(bpy.context)
        found = ext("view.handles").handles_of(bpy.context, wearer) if wearer else []
        if found:
            handle = rng.choice(found)
            now = int(np.linalg.norm(handle.way - handle.at, axis=1).argmin())
            there = min(max(now + rng.randrange(-12, 13), 0), len(handle.values) - 1)
            bpy.ops.sealwright.move_handle(
                "EXEC_DEFAULT", True, key=handle.key, value=float(handle.values[there])
            )

    return step


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


def move_point(rng):
    lines = [o for o in bpy.data.objects if o.get("sealwright") == "seal line" and o.mode == "OBJECT"]
    if lines and lines[0].data.splines:
        points = lines[0].data.splines[0].bezier_points
        points[rng.randrange(len(points))].co.z += rng.choice([-2.0, 2.0])


def change_scan(rng):
    heads = [o for o in bpy.data.objects if o.type == "MESH" and "sealwright" not in o and o.name == "head"]
    if heads:
        how = rng.randrange(3)
        if how == 0:
            heads[0].rotation_euler.z += 0.1
        elif how == 1:
            heads[0].location.x += 2.0
        elif not heads[0].modifiers:
            heads[0].modifiers.new("Smooth", "SMOOTH").iterations = 2
        else:
            heads[0].modifiers.clear()


def edit_part(rng):
    parts = [o for o in bpy.data.objects if str(o.get("sealwright", "")).startswith("part:")]
    if parts:
        rng.choice(parts).scale.x = rng.choice([1.0, 1.1])


def live(ext):
    """What Blender's timer does after a value was changed in a window; no undo step of its own."""

    def step(_rng):
        if len(state().wearers) and bpy.context.mode == "OBJECT":
            ext("jobs.live").rebuild()

    return step


def save_and_open(folder):
    """The file saved and opened again, or another one of before."""

    def step(rng):
        path = folder / f"walk-{rng.randrange(2)}.blend"
        if not path.exists() or rng.random() < 0.7:
            bpy.ops.wm.save_as_mainfile(filepath=str(path))
        bpy.ops.wm.open_mainfile(filepath=str(path))

    return step


def select_head(_rng):
    heads = [o for o in bpy.data.objects if o.type == "MESH" and "sealwright" not in o]
    bpy.context.view_layer.objects.active = heads[0] if heads else None


def take_recipe(_rng):
    if len(state().wearers) > 1 and state().active != 0:
        bpy.ops.sealwright.take_recipe("EXEC_DEFAULT", True, wearer="0")


def begin_again(_rng):
    """The way out of states in which nothing can be built: the usual values on the scan as it was."""
    leave_edit_mode(_rng)
    heads = [o for o in bpy.data.objects if o.type == "MESH" and "sealwright" not in o and o.name == "head"]
    if not heads:
        return
    heads[0].modifiers.clear()
    bpy.context.view_layer.objects.active = heads[0]
    bpy.ops.sealwright.take_scan("EXEC_DEFAULT", True)
    state().wearers[state().active].unit = "SCENE"
    bpy.ops.sealwright.apply_preset("EXEC_DEFAULT", True, preset="dust-half-mask")
    bpy.ops.sealwright.reset_landmarks("EXEC_DEFAULT", True)
    for name in ("find_face", "lay_seal_line", "preview_body"):
        getattr(bpy.ops.sealwright, name)("EXEC_DEFAULT", True)


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
    (3, call("add_port")),
    (3, call("remove_port")),
    (5, own_values),
    (5, begin_again),
    (2, put_point_back),
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
    (4, move_point),
    (3, change_scan),
    (2, edit_part),
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


def digest_of(wearer) -> str:
    """The inputs of a wearer's design, read from the scene without the extension's prints."""
    graph = bpy.context.evaluated_depsgraph_get()
    scan = wearer.scan
    if scan is None or scan.name not in bpy.context.scene.objects:
        return ""
    seen = scan.evaluated_get(graph)
    units = {"SCENE": 1000.0 * bpy.context.scene.unit_settings.scale_length, "MEASURED": wearer.measured_mm}
    units |= {
        "MM": 1.0,
        "CM": 10.0,
        "M": 1000.0,
        "IN": 25.4,
    }  # the same length said in another way is the same
    parts = [arrays_of(seen).tobytes(), np.array(seen.matrix_world).tobytes(), f"{units[wearer.unit]:.6g}"]
    parts += [wearer.clicked and list(wearer.clicks), wearer.adult]
    for obj in wearer.collection.all_objects if wearer.collection else ():
        tag = str(obj.get("sealwright", ""))
        proposed = list(obj.get("sealwright_proposal", ()))
        if tag.startswith("landmark:") and np.shape(proposed) != (3,):
            parts += [tag, list(obj.location)]
        elif tag.startswith("landmark:") and np.abs(np.subtract(proposed, obj.location)).max() > 1e-3:
            parts += [tag, list(obj.location)]  # an untouched proposal is no input
    line = wearer.seal_line
    if line is not None and line.name in bpy.context.scene.objects and line.data.splines:
        points = [tuple(p.co) for p in line.data.splines[0].bezier_points]
        proposed = np.array(line.data.get("sealwright_proposal", ())).reshape(-1, 3)
        # an untouched proposal is no input
        if proposed.shape != np.shape(points) or np.abs(proposed - points).max() > 1e-4:
            parts += [points]
    parts.append(str(sorted(walk_values(wearer.recipe))))
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def walk_values(group, path=""):
    for key in group.bl_rna.properties.keys():  # noqa: SIM118 (a Blender collection)
        value = getattr(group, key)
        if key in ("rna_type", "name"):
            continue
        if isinstance(value, bpy.types.PropertyGroup):
            yield from walk_values(value, f"{path}{key}.")
        elif isinstance(value, bpy.types.bpy_prop_collection):
            for index, item in enumerate(value):
                yield from walk_values(item, f"{path}{key}.{index}.")
        else:
            yield f"{path}{key}", str(value)


class Truth:
    """What the states that were passed through really give, each built once without anything kept."""

    def __init__(self, ext, folder: Path):
        self.ext, self.folder = ext, folder
        self.previews, self.parts, self.made, self.compared = {}, {}, {}, 0
        self.shapes, self.held = {}, 0

    def fresh(self, wearer, full: bool):
        """Points (n, 3) by tag of a fresh preview or design, mm."""
        known, digest = self.parts if full else self.previews, digest_of(wearer)
        if digest not in known:
            stages, core, run = self.ext("jobs.stages"), self.ext("core.designing"), self.ext("core.progress")
            del core
            cache = self.ext("model.cache")
            kept = dict(cache._kept)
            cache.clear()
            if full:
                shape = run.run_to_end(stages.design_steps(bpy.context, wearer))
                prepared = shape.prepared
                known[digest] = {f"part:{name}": solid.mesh.vertices for name, solid in shape.parts.items()}
            else:
                prepared, shape = run.run_to_end(stages.shape_steps(bpy.context, wearer))
                known[digest] = {"preview": shape.mesh.vertices}
            mm = self.ext("model.wearers").wearer_mm(bpy.context, wearer)
            self.shapes[full, digest] = shape, self.ext("jobs.output").part_matrix(prepared, mm)
            cache.clear()
            cache._kept.update(kept)
        return known[digest]

    def check(self, wearer):
        """Compare all that stands as current."""
        standing = self.ext("view.standing")
        if wearer.quality == "NONE" or stale(self.ext, wearer) or bpy.context.mode != "OBJECT":
            return
        full, objects = wearer.quality == "FINAL", standing.objects_of(wearer)
        hands = standing.edited_parts(bpy.context, wearer)
        mm = self.ext("model.wearers").wearer_mm(bpy.context, wearer)
        wanted = self.fresh(wearer, full)
        assert set(standing.standing_tags(wearer)) == set(wanted)
        for tag, points in wanted.items():
            if tag.removeprefix("part:") in hands:
                continue
            found = arrays_of(objects[tag][0]) * mm
            assert found.shape == points.shape, tag
            assert np.abs(found - points).max() < SAME_MM, tag
            self.compared += 1
        if wearer == self.ext("model.wearers").active_wearer(bpy.context):
            self.handles(wearer, full)
        if full and not hands:
            self.exported(wearer, objects)

    def handles(self, wearer, full: bool):
        """Handles stand where those of a fresh shape do."""
        shown = self.ext("view.handles")
        found = {handle.key: handle for handle in shown.handles_of(bpy.context, wearer)}
        if not found:
            return
        now = self.ext("model.fingerprint").inputs_print(bpy.context, wearer)
        kept, (shape, matrix) = dict(shown._shown), self.shapes[full, digest_of(wearer)]
        near = 10 * SAME_MM if (now, full) in kept else COARSE_MM
        shown.keep(now, shape, matrix, full)
        mm = self.ext("model.wearers").wearer_mm(bpy.context, wearer)
        for handle in shown.handles_of(bpy.context, wearer):
            off = np.linalg.norm(handle.at - found[handle.key].at) * mm
            assert off < near, (handle.key, off)
            self.held += 1
        shown._shown.clear()
        shown._shown.update(kept)

    def exported(self, wearer, objects):
        """What Export writes is what stands."""
        digest = digest_of(wearer)
        if digest in self.made or self.ext("model.wearers").active_wearer(bpy.context) != wearer:
            return
        run, stages = self.ext("core.progress").run_to_end, self.ext("jobs.stages")
        made = run(stages.shown_steps(bpy.context, wearer, (), False))
        for name in wearer.parts.split("|"):
            row = np.dtype([("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")])
            written = np.frombuffer(made.files[f"{name}.stl"], row, offset=84)["p"].reshape(-1, 3)
            shown = arrays_of(objects[f"part:{name}"][0]) * self.ext("model.wearers").wearer_mm(
                bpy.context, wearer
            )
            for axis in range(
                3
            ):  # the triangles may come in another order; their corners are the same places
                assert np.sort(np.unique(written[:, axis])) == pytest.approx(
                    np.sort(np.unique(shown[:, axis].astype(np.float32))), abs=SAME_MM
                )
        self.made[digest] = True


def check_drawn(ext, said: dict):
    """Marks, messages and maps that are shown as current were made in the state as it is."""
    wearer = ext("model.wearers").active_wearer(bpy.context)
    if wearer is None:
        return
    now = digest_of(wearer)
    problem = ext("view.messages").current_problem(bpy.context)
    if problem is not None and problem.of:
        assert said["problem"] == now
    marks = ext("view.line_marks")
    before = marks.drawn_line(bpy.context, wearer)
    if before is not None:
        marks.look(bpy.context)
        assert np.array_equal(before, marks.drawn_line(bpy.context, wearer))
    for tag, obj in ext("model.wearers").tagged(wearer, "map:"):
        if ext("view.standing").made_from(obj) == ext("model.fingerprint").inputs_print(bpy.context, wearer):
            key = obj.data.name, obj.data["sealwright_stamp"]
            assert said.setdefault(key, now) == now, tag
    if ext("view.standing").checks_current(bpy.context, wearer):
        rows = str([(row.name, row.value) for row in wearer.checks])
        assert said.setdefault(rows, now) == now


def test_whatever_the_order_what_is_shown_is_true(ext, monkeypatch):
    monkeypatch.setattr(ext("core.jobs.examining"), "predict_steps", lambda design: iter(()))
    rng = random.Random(SEED)
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    bpy.ops.ed.undo_push(message="start")
    refused = done = 0
    said: dict = {}
    with tempfile.TemporaryDirectory() as made:
        truth = Truth(ext, Path(made))
        table = [*STEPS_BY_WEIGHT, (4, live(ext)), (2, save_and_open(Path(made)))]
        table += [(3, draw_stroke(ext)), (4, drag_handle(ext))]
        weights, steps = zip(*table, strict=True)
        for number in range(STEPS):
            if number % 100 == 0:
                print(f"step {number}: {truth.compared} compared, {len(truth.made)} exports", flush=True)
            dice, pushed = rng.random(), True
            if dice < 0.14:
                pushed = False
                if bpy.ops.ed.undo.poll():
                    bpy.ops.ed.undo()
            elif dice < 0.2:
                pushed = False
                if bpy.ops.ed.redo.poll():
                    bpy.ops.ed.redo()
            else:
                step = rng.choices(steps, weights)[0]
                pushed = step.__qualname__.split(".")[0] != "live"
                try:
                    step(rng)
                    done += 1
                except RuntimeError as refusal:
                    assert "Traceback" not in str(refusal), str(refusal)
                    refused += 1
            if pushed:
                bpy.ops.ed.undo_push(message="step")
            active = ext("model.wearers").active_wearer(bpy.context)
            if active is not None and ext("view.messages").window_state(bpy.context).problem.what:
                problem = ext("view.messages").current_problem(bpy.context)
                if problem is not None and said.get("text") != (problem.what, problem.of):
                    said["text"], said["problem"] = (problem.what, problem.of), digest_of(active)
            check_consistent(ext)
            for wearer in state().wearers:
                truth.check(wearer)
            check_drawn(ext, said)
    print(
        json.dumps(
            {
                "done": done,
                "refused": refused,
                "compared": truth.compared,
                "handles": truth.held,
                "exports": len(truth.made),
            }
        )
    )
    assert done > 0.3 * STEPS
    assert refused > 5
    assert truth.compared > 0.05 * STEPS
    assert len(truth.made) > 0

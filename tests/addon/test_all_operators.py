"""Every operator of the extension: poll sentence, success, undo, redo, again, after saving and opening,
after its objects were renamed or deleted.

Every case starts from a saved file that is opened, so each success is one after saving and opening. An
operator that is not in the table fails the first test.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import add_ball, add_card, add_head, scene_stamp

STAGES = ("nothing", "head", "scan", "ruler", "face", "line", "built")


@dataclass(frozen=True)
class Case:
    """How one operator is called.

    Attributes
    ----------
    stage : how far the job must be; one of `STAGES`.
    missing : words of the poll sentence in an empty file; "" where it can always run.
    arguments : what it is called with; "{folder}" is filled in.
    changes : it belongs to the undo history.
    before : run first, after opening the file.
    """

    stage: str
    missing: str
    arguments: dict = field(default_factory=dict)
    changes: bool = True
    before: object = None


def second_wearer():
    bpy.ops.sealwright.add_wearer(name="Ben")
    bpy.context.scene.sealwright.wearers[1].recipe.band.width_mm = 20.0


def a_problem():
    state = bpy.context.window_manager.sealwright.problem
    state.what, state.has_point, state.point = "Something", True, (1.0, 2.0, 3.0)


def to_tmp(folder: Path):
    bpy.context.scene.sealwright.export_folder = str(folder)


EYES_AND_NOSE = [49.0, 26.0, 38.0, -49.0, 26.0, 38.0, 0.0, -20.0, 10.0]  # of the invented head, mm
# a stroke once round the mouth, in front of the face; it is dropped on the skin
ROUND = [
    {"name": "", "place": (38.0 * np.sin(turn), -90.0, -30.0 + 50.0 * np.cos(turn))}
    for turn in np.linspace(0.0, 6.2, 100)
]
FOREHEAD = [  # and one round the forehead, likewise
    {"name": "", "place": (30.0 * np.sin(turn), -90.0, 85.0 + 15.0 * np.cos(turn))}
    for turn in np.linspace(0.0, 6.2, 100)
]


def an_outline():
    bpy.ops.sealwright.draw_outline(stroke=FOREHEAD)


def a_ball():
    return add_ball(28.0, (0.0, -25.0, -25.0))


def a_model():
    a_ball()
    bpy.ops.sealwright.use_model()


def a_fitting():
    a_model()
    bpy.ops.sealwright.stand_fitting(kind="port", at="GIVEN", place=(0.0, -53.0, -25.0))


def a_model_and_another_ball():
    a_model()
    add_ball(6.0, (-24.0, -38.0, -25.0), "dimple")


def a_cutter():
    a_model_and_another_ball()
    bpy.ops.sealwright.cut_here()


def an_opening():
    an_outline()
    bpy.ops.sealwright.add_opening(kind="slots")


def a_selected_patch():
    for polygon in bpy.context.scene.sealwright.wearers[0].scan.data.polygons:
        x, y, z = polygon.center
        polygon.select = bool(y < 60.0 and np.hypot(x, z - 85.0) < 15.0)


WEARER, SCAN = "Add a wearer first", "Add a wearer first"
CASES = {
    "add_wearer": Case("nothing", "", {"name": "Ada"}),
    "remove_wearer": Case("scan", WEARER),
    "take_scan": Case("head", "Select the mesh object"),
    "import_scan": Case("nothing", "", {"filepath": "{folder}/face.stl"}),
    "use_fitting_unit": Case("scan", SCAN),
    "add_ruler": Case("scan", SCAN),
    "use_ruler": Case("ruler", SCAN),
    "use_reference": Case("scan", SCAN, before=lambda: add_card("CURSOR")),
    "find_face": Case("scan", SCAN),
    "three_clicks": Case("scan", SCAN, {"places": EYES_AND_NOSE}),
    "forget_clicks": Case("scan", SCAN, before=lambda: bpy.ops.sealwright.three_clicks(places=EYES_AND_NOSE)),
    "set_landmark": Case("face", SCAN, {"name": "menton"}),
    "reset_landmarks": Case("face", SCAN),
    "show_landmark": Case("face", "", {"name": "menton"}),
    "lay_seal_line": Case("face", SCAN),
    "edit_seal_line": Case("line", SCAN),
    "draw_seal_line": Case("line", SCAN, {"stroke": ROUND}),
    "smooth_seal_line": Case("line", SCAN),
    "mirror_seal_line": Case("line", SCAN, {"keep": "LEFT"}),
    "add_seal_point": Case("line", SCAN),
    "remove_seal_point": Case("line", SCAN),
    "show_sector": Case("line", SCAN, {"index": 0}),
    "preview_body": Case("line", SCAN),
    "build_parts": Case("line", SCAN),
    "add_port": Case("scan", WEARER),
    "remove_port": Case("scan", WEARER, before=lambda: bpy.ops.sealwright.add_port()),
    "add_design": Case("face", SCAN),
    "draw_outline": Case("scan", SCAN, {"stroke": FOREHEAD}),
    "outline_from": Case("scan", SCAN, {"source": "FACES"}, before=a_selected_patch),
    "edit_outline": Case("scan", SCAN, before=an_outline),
    "add_opening": Case("scan", WEARER, {"kind": "holes"}, before=an_outline),
    "remove_opening": Case("scan", WEARER, {"kind": "slots", "index": 0}, before=an_opening),
    "use_model": Case("scan", SCAN, before=a_ball),
    "take_cage": Case("line", SCAN),
    "use_cage": Case("scan", SCAN, before=a_ball),
    "stand_fitting": Case("face", SCAN, {"at": "CURSOR"}, before=a_model),
    "remove_fitting": Case("face", SCAN, {"index": 0}, before=a_fitting),
    "cut_here": Case("face", SCAN, before=a_model_and_another_ball),
    "remove_cutter": Case("face", SCAN, {"index": 0}, before=a_cutter),
    "move_handle": Case("face", WEARER, {"key": "ports.0.turn_deg", "value": 12.0}),
    "examine": Case("built", WEARER),
    "try_remedies": Case("built", WEARER, before=lambda: bpy.ops.sealwright.examine()),
    "show_map": Case("built", WEARER, {"kind": "wall"}),
    "show_check": Case("built", WEARER, {"index": 13}),  # contact: the first ones have no single place
    "export_parts": Case("built", WEARER, {"failing": True}, changes=False),
    "choose_folder": Case("built", WEARER, {"directory": "{folder}/"}, changes=False),
    "ask_export": Case("built", WEARER, {"edited": "AS_EDITED", "failing": True}, changes=False),
    "share_scene": Case("built", WEARER, changes=False),
    "save_recipe": Case("scan", WEARER, {"filepath": "{folder}/saved.json"}, changes=False),
    "load_recipe": Case("scan", WEARER, {"filepath": "{folder}/mine.json"}),
    "apply_preset": Case("scan", WEARER, {"preset": "half-mask-with-valve"}),
    "keep_preset": Case("scan", WEARER, {"name": "Kept"}, changes=False),
    "take_recipe": Case("scan", WEARER, {"wearer": "0"}, before=second_wearer),
    "show_place": Case("nothing", "no problem", changes=False, before=a_problem),
    "dismiss_problem": Case("nothing", "", changes=False),
}


@pytest.fixture(autouse=True)
def unpredicted(ext, monkeypatch):
    """Nothing is worn: `test_body_steps` examines in full, and it takes a minute each time."""

    def nothing(*_):
        yield from ()

    for name in ("predict_steps", "tried_steps"):
        monkeypatch.setattr(ext("core.jobs.examining"), name, nothing)
    yield
    for kind in ("made", "tried"):
        ext("model.cache").clear(kind)


# What the second call may answer; everything else must work again and again.
ONLY_ONCE = {
    "remove_wearer": "Add a wearer first",
    "remove_port": "at least one port",
    "remove_opening": "no opening 1",
    "remove_fitting": "no fitting 1",
    "cut_here": "already takes part",
    "remove_cutter": "no cutter 1",
}


# As the files are, these find everything in place already; where nothing is worn, remedies find what
# examining found.
NOTHING_TO_DO = {"reset_landmarks", "edit_seal_line", "edit_outline", "try_remedies"}
LOOKS = {"show_landmark", "show_sector", "show_check", "choose_folder"}
# They turn the view, select, show, or set where files go: nothing to undo.


def call(name: str, case: Case, folder: Path, undo: bool = False):
    arguments = {
        key: value.replace("{folder}", str(folder)) if isinstance(value, str) else value
        for key, value in case.arguments.items()
    }
    positional = ("EXEC_DEFAULT", True) if undo else ()
    return getattr(bpy.ops.sealwright, name)(*positional, **arguments)


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    """One saved file per stage, a scan file and a recipe file."""
    folder = tmp_path_factory.mktemp("stages")
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.context.scene.unit_settings.scale_length = 0.001
    steps = {
        "nothing": lambda: None,
        "head": add_head,
        "scan": bpy.ops.sealwright.take_scan,
        "ruler": bpy.ops.sealwright.add_ruler,
        "face": bpy.ops.sealwright.find_face,
        "line": bpy.ops.sealwright.lay_seal_line,
        "built": bpy.ops.sealwright.build_parts,
    }
    for stage in STAGES:
        steps[stage]()
        bpy.ops.wm.save_as_mainfile(filepath=str(folder / f"{stage}.blend"), copy=True)
    bpy.ops.wm.stl_export(filepath=str(folder / "face.stl"), export_selected_objects=True)
    bpy.context.scene.sealwright.wearers[0].recipe.band.width_mm = 13.5
    bpy.ops.sealwright.save_recipe(filepath=str(folder / "mine.json"))
    return folder


@pytest.fixture
def opened(saved, tmp_path):
    """Open the file of a case and run what must come before."""

    def at(case: Case) -> Path:
        bpy.ops.wm.open_mainfile(filepath=str(saved / f"{case.stage}.blend"))
        to_tmp(tmp_path / "out")
        if case.before:
            case.before()
        bpy.ops.ed.undo_push(message="start")
        return saved

    return at


def ours():
    return [o for o in bpy.data.objects if "sealwright" in o]


# Searching takes long even at its shortest: `test_choices` searches once, chooses, takes and undoes.
SEARCHING = {"search_designs", "choose_design", "use_design"}


def test_no_operator_is_missing_here():
    assert set(dir(bpy.ops.sealwright)) == set(CASES) | SEARCHING


def test_searching_says_what_is_missing():
    for name, words in (("search_designs", SCAN), ("use_design", WEARER)):
        with pytest.raises(RuntimeError, match=words):
            getattr(bpy.ops.sealwright, name)()


@pytest.mark.parametrize("name", CASES)
def test_poll_sentence(name):
    case = CASES[name]
    if case.missing:
        with pytest.raises(RuntimeError, match=case.missing):
            getattr(bpy.ops.sealwright, name)()
    bpy.context.window_manager.sealwright.job_title = "Building"
    try:
        if name not in (
            "show_place",
            "show_check",
            "show_landmark",
            "show_sector",
        ):  # looking is allowed while a job runs
            with pytest.raises(RuntimeError, match="Building is running; wait for it or press Esc"):
                getattr(bpy.ops.sealwright, name)()
    finally:
        bpy.context.window_manager.sealwright.job_title = ""


@pytest.mark.parametrize("name", CASES)
def test_success_undo_redo_and_again(name, opened):
    case = CASES[name]
    folder = opened(case)
    before = scene_stamp()
    assert call(name, case, folder, undo=True) == {"FINISHED"}
    after = scene_stamp()
    if name in LOOKS:
        assert "UNDO" not in getattr(bpy.ops.sealwright, name).bl_options
    elif case.changes:
        assert (after == before) == (name in NOTHING_TO_DO)
        bpy.ops.ed.undo()
        assert scene_stamp() == before
        bpy.ops.ed.redo()
        assert scene_stamp() == after
    else:
        assert after == before
    if name in ONLY_ONCE:
        with pytest.raises(RuntimeError, match=ONLY_ONCE[name]):
            call(name, case, folder)
    else:
        assert call(name, case, folder) == {"FINISHED"}
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")


# these examine too, and ask for the same as examining and exporting do
SLOW = ("try_remedies", "ask_export")
NOT_SLOW = [n for n, c in CASES.items() if c.stage not in ("nothing", "head") and n not in SLOW]


@pytest.mark.parametrize("name", NOT_SLOW)
def test_after_renaming_everything(name, opened, ext):
    case = CASES[name]
    folder = opened(case)
    for index, obj in enumerate(bpy.data.objects):
        obj.name = f"thing {index}"
        if obj.data:
            obj.data.name = f"data {index}"
    for collection in bpy.data.collections:
        collection.name = "drawer"
    assert call(name, case, folder) == {"FINISHED"}
    wearers = bpy.context.scene.sealwright.wearers
    for wearer in wearers:
        tags = [tag for tag, _ in ext("model.wearers").tagged(wearer, "")]
        assert len(tags) == len(set(tags))  # found again, not made a second time
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")


# Without its objects a step works, or says what is missing; these say so.
NEEDS_OBJECTS = {
    "edit_outline": "Draw the outline",
    "use_ruler": "Lay the ruler",
    "edit_seal_line": "Lay the seal line first",
    "smooth_seal_line": "Lay the seal line first",
    "mirror_seal_line": "Lay the seal line first",
    "add_seal_point": "Lay the seal line first",
    "remove_seal_point": "Lay the seal line first",
    "show_sector": "Lay the seal line first",
    "show_landmark": "no landmark",
    **dict.fromkeys(
        (
            "examine",
            "try_remedies",
            "show_map",
            "show_check",
            "export_parts",
            "choose_folder",
            "ask_export",
            "share_scene",
        ),
        "was deleted",
    ),
}


@pytest.mark.parametrize("name", [n for n, c in CASES.items() if c.stage not in ("nothing", "head")])
def test_after_deleting_its_objects(name, opened):
    case = CASES[name]
    folder = opened(case)
    for obj in ours():
        bpy.data.objects.remove(obj)
    before = scene_stamp()
    if name in NEEDS_OBJECTS:
        with pytest.raises(RuntimeError, match=NEEDS_OBJECTS[name]):
            call(name, case, folder)
        assert scene_stamp() == before
    else:
        assert call(name, case, folder) == {"FINISHED"}


READS_SCAN = (
    "find_face",
    "lay_seal_line",
    "preview_body",
    "build_parts",
    "add_ruler",
    "use_fitting_unit",
)


@pytest.mark.parametrize("name", READS_SCAN)
def test_a_refused_step_leaves_the_scene(name, opened, ext):
    case = CASES[name]
    folder = opened(case)
    ext("model.cache").clear()
    scan = bpy.context.scene.sealwright.wearers[0].scan
    bpy.context.view_layer.objects.active = scan
    bpy.ops.object.mode_set(mode="EDIT")
    before = scene_stamp()
    with pytest.raises(RuntimeError, match="edit mode"):
        call(name, case, folder)
    assert scene_stamp() == before
    assert bpy.context.window_manager.sealwright.problem.code == "edit-mode"
    bpy.ops.object.mode_set(mode="OBJECT")


@pytest.mark.parametrize("name", NOT_SLOW)
def test_after_the_scan_was_deleted(name, opened):
    """The delete key unlinks the scan from the scene; a step says so, or does not need it."""
    case = CASES[name]
    folder = opened(case)
    scan = bpy.context.scene.sealwright.wearers[0].scan
    for collection in list(scan.users_collection):
        collection.objects.unlink(scan)
    try:
        assert call(name, case, folder) == {"FINISHED"}
    except RuntimeError as refusal:
        assert "has no scan" in str(refusal)

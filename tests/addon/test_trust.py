"""Trust in the scan: verdict of each sector; what was changed as a map, kept and dropped."""

from __future__ import annotations

from dataclasses import replace

import bpy
import numpy as np
import pytest
from scenes import add_head, arrays_of, head_arrays
from test_panels import Recorder

NOISE_MM = 0.8  # between doubtful (above 0.5 mm) and scan again (above 1.0 mm), core TrustSettings
HOLE_MM = 6.0


def wearer():
    state = bpy.context.scene.sealwright
    return state.wearers[state.active]


def laid(change=None):
    """A head, changed in place before it is taken as a scan, with its proposed line."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    head = add_head()
    if change is not None:
        change(head)
    bpy.ops.sealwright.take_scan()
    assert bpy.ops.sealwright.lay_seal_line() == {"FINISHED"}
    return head


def cheek() -> np.ndarray:
    """A place (3,) on the left cheek, where the proposed line passes: half way from alare to mouth corner."""
    _, _, true = head_arrays()
    vertices = head_arrays()[0]
    out = true["cheilion_left"] * [1.0, 0.0, 0.0]
    place = 0.5 * (true["alare_left"] + true["cheilion_left"]) + out
    return vertices[np.argmin(np.linalg.norm(vertices - place, axis=1))]


def noisy(head) -> None:
    """White noise on 30 mm round the left cheek."""
    vertices = head_arrays()[0]
    near = np.linalg.norm(vertices - cheek(), axis=1) < 30.0
    normals = np.array([v.normal[:] for v in head.data.vertices])
    by = np.random.default_rng(3).normal(scale=NOISE_MM, size=near.sum())
    vertices[near] += by[:, None] * normals[near]
    head.data.vertices.foreach_set("co", vertices.astype(np.float32).ravel())
    head.data.update()


def holed(head) -> None:
    """A hole of 6 mm radius in the left cheek."""
    import bmesh

    made = bmesh.new()
    made.from_mesh(head.data)
    place = cheek()
    away = [v for v in made.verts if np.linalg.norm(np.array(v.co) - place) < HOLE_MM]
    bmesh.ops.delete(made, geom=away, context="VERTS")
    made.to_mesh(head.data)
    made.free()


def verdicts() -> dict[str, str]:
    return {row.name: row.verdict for row in wearer().sectors if row.verdict != "good"}


class Reader(Recorder):
    """A layout that remembers what can be read on it."""

    def __init__(self):
        super().__init__()
        self.said = []

    def label(self, text="", **_):
        self.said.append(text)

    def operator(self, name, text="", **_):
        self.said.append(text)
        return super().operator(name)


def read(ext) -> str:
    """The words of the Seal Line panel."""
    layout = Reader()
    ext("ui.panels").SEALWRIGHT_PT_seal_line().content(layout, bpy.context)
    return " ".join(layout.said)


def test_a_good_scan_needs_two_sentences(ext):
    laid()
    assert len(wearer().sectors) == 10
    assert verdicts() == {}
    said = read(ext)
    assert "Scanned skin under the seal: good all round." in said
    assert "Under the seal the skin is as it was scanned." in said
    assert "doubtful" not in said and "again" not in said


def test_a_noisy_cheek_is_named_with_its_reason_and_shown(ext):
    laid(noisy)
    assert verdicts()["left cheek"] == "doubtful"
    assert not [name for name in verdicts() if name.startswith("right")]
    row = next(row for row in wearer().sectors if row.name == "left cheek")
    assert "scatters by 0." in row.reason
    said = read(ext)
    assert f"doubtful in {len(verdicts())} of 10 sectors" in said
    assert "Left cheek: doubtful" in said
    assert row.reason.split(". ")[0] in said and "Scan this place again" in said
    index = list(wearer().sectors).index(row)
    assert bpy.ops.sealwright.show_sector(index=index) == {"FINISHED"}
    # a sector is 20 to 40 mm long, its middle lies within half of that of the place
    assert np.linalg.norm(np.array(bpy.context.scene.cursor.location) - cheek()) < 20.0


def test_the_drawn_line_is_marked_where_it_is_doubtful(ext):
    laid(noisy)
    marks = ext("view.line_marks")
    marks.look(bpy.context)
    runs = marks.doubted_runs(bpy.context, wearer())
    assert len(runs) == len(verdicts())
    assert {verdict for verdict, _ in runs} == set(verdicts().values())
    line = marks.drawn_line(bpy.context, wearer())
    step = np.linalg.norm(np.diff(line, axis=0), axis=1).max()
    for _, run in runs:  # one piece each, also where the line begins and ends
        assert len(run) < 2 or np.linalg.norm(np.diff(run, axis=0), axis=1).max() <= step * 1.01
    wearer().sectors[0].verdict = "rescan"  # the nose bridge goes through the start of the line
    verdict, run = marks.doubted_runs(bpy.context, wearer())[0]
    assert verdict == "rescan"
    assert np.linalg.norm(np.diff(run, axis=0), axis=1).max() <= step * 1.01


def test_dashes_have_their_lengths(ext):
    ends = ext("view.overlay").dashes(np.array([[0.0, 0, 0], [4.0, 0, 0], [4.0, 9.0, 0]]), 3.0, 2.0)
    along = ends.sum(axis=1).reshape(-1, 2)  # an L along the axes: the sum is the way gone
    assert along == pytest.approx(np.array([[0, 3], [5, 8], [10, 13]]))


def test_verdicts_follow_the_line(ext):
    laid()
    point = wearer().seal_line.data.splines[0].bezier_points[3]
    point.co.x += 6.0
    assert "preview the body to judge the skin again" in read(ext)
    ext("view.line_marks").look(bpy.context)  # what the timer does when the hand gives way
    assert "Scanned skin under the seal" in read(ext)
    wearer().recipe.band.width_mm = 18.0
    assert "preview the body to judge the skin again" in read(ext)
    bpy.ops.sealwright.preview_body()
    assert "Scanned skin under the seal" in read(ext)
    wearer().recipe.kind = "tube"
    bpy.ops.sealwright.build_parts()
    assert len(wearer().sectors) == 0  # a tube has no seal line


def test_the_build_says_what_its_report_says(ext):
    laid(noisy)
    bpy.ops.sealwright.build_parts()
    stages = ext("jobs.stages")
    progress = ext("core.progress")
    design = progress.run_to_end(stages.design_steps(bpy.context, wearer()))
    report = ext("core.report.sections.trust").trust_section(design)
    rows = ext("core.verdicts.rows")
    assert {row["sector"]: row["verdict"] for row in report["sectors"]} == {
        row.name: row.verdict for row in wearer().sectors
    }
    # what an examination shows as the place of its trust check (the examination itself takes 20 s)
    place = rows.spots_of(design)["trust"].point
    world = ext("model.placing").to_world(ext("model.placing").face_matrix(wearer()), place)
    bad = [np.array(row.point) for row in wearer().sectors if row.verdict == "doubtful"]
    assert min(np.linalg.norm(world - there) for there in bad) < 0.01  # single precision of the file
    trust = ext("core.trust.verdicts").trust_of(design)
    good = tuple(replace(sector, verdict="good") for sector in trust.sectors)
    assert rows.doubted_spot(replace(trust, sectors=good)) is None
    before = wearer().judged_by
    ext("view.line_marks").look(bpy.context)
    assert wearer().judged_by == before  # not judged anew at fewer stations


def skin(ext):
    return ext("view.skin_map").skin_object(wearer())


def values_of(obj, name: str, kind) -> np.ndarray:
    out = np.empty(len(obj.data.vertices), kind)
    obj.data.attributes[name].data.foreach_get("value", out)
    return out


def test_what_was_changed_is_a_map_on_the_face(ext, tmp_path):
    laid(holed)
    bpy.ops.ed.undo_push(message="line")
    assert wearer().skin_changes.startswith("Changed under the seal: 1 hole filled under ")
    assert bpy.ops.sealwright.show_map("EXEC_DEFAULT", True, kind="skin") == {"FINISHED"}
    obj = skin(ext)
    guessed = arrays_of(obj)[values_of(obj, "class", np.int32) == 1]
    guessed = guessed @ np.array(obj.matrix_world)[:3, :3].T + np.array(obj.matrix_world)[:3, 3]
    away = np.linalg.norm(guessed - cheek(), axis=1)
    # whole triangles (2 mm edges) went with the vertices, and the map is lifted 0.6 mm off the skin
    assert len(away) > 10 and away.max() < HOLE_MM + 5.0
    assert values_of(obj, "value", np.float32).max() == 0.0  # clean skin is not smoothed
    legend = ext("view.overlay").visible_legend(bpy.context)
    assert (legend["title"], legend["unit"]) == ("Skin moved by smoothing", "mm")
    assert legend["classes"].split("|")[0] == "guessed: filled, not scanned"
    colours = np.empty(4 * len(obj.data.vertices), np.float32)
    obj.data.color_attributes["Colour"].data.foreach_get("color", colours)
    legend = ext("view.legend")
    red = np.abs(colours.reshape(-1, 4) - legend.linear_of(np.array(legend.CLASS_COLOURS[:1]))).max(axis=1)
    assert np.array_equal(red < 1e-6, values_of(obj, "class", np.int32) == 1)
    bpy.ops.ed.undo()
    assert skin(ext) is None
    bpy.ops.ed.redo()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    assert (values_of(skin(ext), "class", np.int32) == 1).sum() == len(away)
    assert "1 hole filled" in read(ext)  # the verdicts were saved with it


def test_the_map_goes_when_the_scan_is_prepared_anew(ext):
    head = laid(noisy)
    bpy.ops.sealwright.show_map(kind="skin")
    name, moved = skin(ext).name, values_of(skin(ext), "value", np.float32)
    bound = ext("model.cache").remembered("prepared", wearer().face_from).face.smoothing.bound_mm
    assert moved.max() == pytest.approx(bound, abs=1e-6)  # noise of 0.8 mm reaches the hard bound
    bpy.ops.sealwright.build_parts()
    assert name in bpy.data.objects  # a build does not touch it
    assert skin(ext).hide_get()  # but shows its parts
    vertices, _, _ = head_arrays()
    head.data.vertices.foreach_set("co", vertices.astype(np.float32).ravel())
    head.data.update()
    bpy.ops.sealwright.find_face()
    assert skin(ext) is None
    assert name not in bpy.data.objects
    assert verdicts() == {}  # judged on the new skin
    bpy.ops.sealwright.show_map(kind="skin")
    assert values_of(skin(ext), "value", np.float32).max() == 0.0


def test_maps_of_the_parts_still_want_the_parts():
    laid()
    with pytest.raises(RuntimeError, match="Build the parts in full quality first"):
        bpy.ops.sealwright.show_map(kind="gap")
    assert bpy.context.window_manager.sealwright.problem.fix


def test_another_scan_takes_the_verdicts_away():
    laid()
    wearer().scale_said = "By a card."
    wearer().clicks, wearer().clicked = range(9), True
    other = add_head()
    bpy.context.view_layer.objects.active = other
    bpy.ops.sealwright.take_scan()
    assert len(wearer().sectors) == 0 and wearer().skin_changes == ""
    assert wearer().scale_said == "" and not wearer().clicked  # these were of the other scan too

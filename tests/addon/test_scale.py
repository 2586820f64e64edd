"""Scale measured on the scan: by the ruler, by a card, by a rectangle; reported, refused, undone, shown."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from scenes import add_card, add_head, scene_stamp
from test_trust import Reader


def state():
    return bpy.context.scene.sealwright


def wearer():
    return state().wearers[state().active]


def problem():
    return bpy.context.window_manager.sealwright.problem


def scanned(mm_per_unit: float = 1.0, unit: str = "MM"):
    bpy.context.scene.unit_settings.scale_length = 0.001
    head = add_head(mm_per_unit=mm_per_unit)
    bpy.ops.sealwright.take_scan()
    wearer().unit = unit
    return head


def panel(ext) -> str:
    """The words of the Scan panel."""
    layout = Reader()
    ext("ui.panels").SEALWRIGHT_PT_scan().content(layout, bpy.context)
    return " ".join(layout.said)


# 0.2 %: the strip lines of the fit leave 0.1 % (tests/core/scan), single precision the rest
CLOSE = 2e-3


@pytest.mark.parametrize("mark", ["SELECTED", "CURSOR"])
@pytest.mark.parametrize("units", [1.02, 10.0], ids=["scanner 2 % out", "centimetres"])
def test_a_card_sets_the_scale(ext, mark, units):
    scanned(units, "CM" if units == 10.0 else "MM")
    add_card(mark)
    assert bpy.ops.sealwright.use_reference() == {"FINISHED"}
    assert ext("model.wearers").wearer_mm(bpy.context, wearer()) == pytest.approx(units, rel=CLOSE)
    said = panel(ext)
    assert "card (ISO/IEC 7810 ID-1)" in said and "its sides differ by" in said
    assert f"one unit is {wearer().measured_mm:.5g} mm" in said


def test_faces_selected_in_edit_mode_count_while_it_lasts(ext):
    head = scanned(1.02)
    add_card("SELECTED")
    bpy.context.view_layer.objects.active = head
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)  # else vertices decide what is selected
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.sealwright.use_reference() == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    assert wearer().measured_mm == pytest.approx(1.02, rel=CLOSE)


def test_the_object_may_be_moved_turned_and_scaled(ext):
    head = scanned()
    head.matrix_world = Matrix.Translation((30, -9, 4)) @ Matrix.Rotation(0.7, 4, "Z") @ Matrix.Scale(0.5, 4)
    bpy.context.view_layer.update()
    wearer().measured_mm, wearer().unit = 2.0, "MEASURED"
    for mark in ("SELECTED", "CURSOR"):
        add_card(mark)
        bpy.ops.sealwright.use_reference()
        assert wearer().measured_mm == pytest.approx(2.0, rel=CLOSE)


def test_a_rectangle_of_own_size(ext):
    scanned(1.05)
    add_card("SELECTED", sides=(120.0, 80.0), steps=2)  # one quad: the side of a box
    state().reference = "RECTANGLE"
    state().reference_long_mm, state().reference_short_mm = 80.0, 120.0  # either way round
    bpy.ops.sealwright.use_reference()
    assert wearer().measured_mm == pytest.approx(1.05, rel=1e-5)  # exact borders, single precision
    assert "120 x 80 mm face" in wearer().scale_said


def test_a_distorted_scan_is_refused_with_its_numbers_and_nothing_changes():
    scanned()
    add_card("SELECTED", stretch=1.03)
    before = scene_stamp()
    with pytest.raises(RuntimeError, match=r"they differ by (2.9|3.0)"):
        bpy.ops.sealwright.use_reference()
    assert scene_stamp() == before
    assert problem().code == "implausible-size"
    assert "known length instead" in problem().fix


def test_nothing_selected_or_no_flat_place_is_refused():
    head = scanned()
    head.data.polygons.foreach_set("select", np.zeros(len(head.data.polygons), dtype=bool))
    state().reference_mark = "SELECTED"
    with pytest.raises(RuntimeError, match="no triangles"):
        bpy.ops.sealwright.use_reference()
    state().reference_mark = "CURSOR"
    bpy.context.scene.cursor.location = (0.0, -120.0, 10.0)
    with pytest.raises(RuntimeError, match=r"flat|triangles lie within"):
        bpy.ops.sealwright.use_reference()
    assert wearer().unit == "MM"


def test_undo_and_redo():
    scanned(1.02)
    add_card("CURSOR")
    bpy.ops.ed.undo_push(message="card")
    bpy.ops.sealwright.use_reference("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    assert (wearer().unit, wearer().scale_said) == ("MM", "")
    bpy.ops.ed.redo()
    assert wearer().unit == "MEASURED" and wearer().scale_said


def ruler(ext, a, b):
    bpy.ops.sealwright.add_ruler()
    ends = dict(ext("model.wearers").tagged(wearer(), "ruler:"))
    ends["a"].location, ends["b"].location = a, b
    bpy.context.view_layer.update()
    return float((ends["a"].matrix_world.translation - ends["b"].matrix_world.translation).length)


def test_a_short_ruler_is_said_to_be_unsure(ext):
    scanned()
    apart = ruler(ext, (-10, -60, 20), (10, -60, 20))
    state().ruler_mm = apart * 1.02
    bpy.ops.sealwright.use_ruler()
    assert wearer().measured_mm == pytest.approx(1.02, rel=1e-5)
    assert "a longer one gives a surer scale" in panel(ext)


def test_a_ruler_that_makes_no_face_is_refused(ext):
    scanned()
    ruler(ext, (-30, -60, 20), (30, -60, 20))
    state().ruler_mm = 900.0
    before = scene_stamp()
    with pytest.raises(RuntimeError, match="the scan would be"):
        bpy.ops.sealwright.use_ruler()
    assert scene_stamp() == before
    assert problem().code == "implausible-size"


def test_a_new_scale_asks_for_the_face_anew(ext):
    scanned()
    bpy.ops.sealwright.lay_seal_line()
    point = wearer().seal_line.data.splines[0].bezier_points[3]
    point.co.x += 4.0
    own = np.array(ext("model.seal_curve").world_points(wearer().seal_line))
    add_card("SELECTED")
    wearer().scan.data.update()
    state().reference, state().reference_long_mm, state().reference_short_mm = "RECTANGLE", 88.168, 55.5994
    bpy.ops.sealwright.use_reference()  # the same card said to be 3 % larger
    assert not wearer().prepared
    bpy.ops.sealwright.find_face()
    inside = ext("model.seal_curve").control_points(wearer().seal_line, wearer())
    back = ext("model.placing").to_world(ext("model.placing").face_matrix(wearer()), inside)
    assert back == pytest.approx(own, abs=1e-3)  # the maker's line stays on its place of the scan
    marks = ext("model.cache").remembered("prepared", wearer().face_from).landmarks
    world = ext("model.landmarks").world_landmarks(bpy.context, wearer())
    length = np.linalg.norm(marks["sellion"] - marks["menton"])
    apart = np.linalg.norm(world["sellion"] - world["menton"])
    assert length / apart == pytest.approx(1.03, rel=CLOSE)


def test_another_unit_takes_the_measurement_away(ext):
    scanned(1.02)
    add_card("SELECTED")
    bpy.ops.sealwright.use_reference()
    wearer().unit = "MM"
    assert wearer().scale_said == ""
    assert "one unit is 1 mm" in panel(ext)


def test_the_three_factors_are_told_apart(ext):
    scanned()
    wearer().recipe.scan.wearer_scale = 1.02
    own = wearer().recipe.allowance
    for axis in "xyz":
        setattr(own, f"shrink_{axis}_percent_auto", False)
        setattr(own, f"shrink_{axis}_percent", 0.7)
    said = panel(ext)
    assert "Wearer scale 1.02: the mask is made to the size +2.0 % on the face." in said
    assert (
        "Shrinkage 0.7 x 0.7 x 0.7 % along X, Y, Z (your coupon): only the printed copies are larger" in said
    )
    for axis in "xyz":
        setattr(own, f"shrink_{axis}_percent_auto", True)
    row = ext("core.tables").table("materials")["materials"]["petg"]
    assert f"Shrinkage {row['shrink_percent']['value']:g} % ({row['name']})" in panel(ext)
    own.shrink_x_percent_auto, own.shrink_x_percent = False, 0.4
    assert "0.4 x 0.3 x 0.3 % along X, Y, Z" in panel(ext)


def test_saving_says_what_a_recipe_cannot_carry(ext):
    scanned()
    note = ext("model.recipe_text").scale_note
    assert note(wearer()) == ""
    wearer().measured_mm, wearer().unit = 1.02, "MEASURED"
    assert "measured as 1.02 mm; the recipe does not carry that" in note(wearer())

"""Blender's manners: menu and search, labels, preferences, languages, renders, wearers, undo."""

from __future__ import annotations

import json
import re
from pathlib import Path

import bpy
import pytest
from scenes import add_head, after
from test_panels import Recorder

REPO = Path(__file__).resolve().parents[2]
# They belong to one row of a list, or ask for another step.
NOT_IN_THE_MENU = {
    "choose_design",
    "show_check",
    "show_sector",
    "show_landmark",
    "ask_export",
    "choose_folder",
    "move_handle",
    "remove_opening",
    "remove_fitting",
    "remove_cutter",
}
# Blender's own interface writes these small within a label, as in "Align View to Active".
SMALL = {"a", "an", "and", "as", "at", "by", "for", "from", "in", "of", "off", "on", "or", "per", "the", "to"}


def wearers():
    return bpy.context.scene.sealwright.wearers


def usual(ext):
    return ext("model.preferences").preferences_of(bpy.context)


def test_the_menu_has_every_operator(ext):
    menu = ext("ui.menu")
    drawn = Recorder()

    class Menu:
        layout = drawn

    menu.SEALWRIGHT_MT_steps.draw(Menu, bpy.context)
    assert {name.partition(".")[2] for name in drawn.operators} | NOT_IN_THE_MENU == set(
        dir(bpy.ops.sealwright)
    )
    for place in menu.PLACES:  # search (F3) walks through the menus of the header
        assert menu.draw_menu in getattr(bpy.types, place)._dyn_ui_initialize()


def labels(ext):
    """Every label of a class or property of ours."""
    for name in dir(bpy.types):
        cls = getattr(bpy.types, name)
        if "SEALWRIGHT" not in name:
            continue
        if "_PG_" not in name:
            yield getattr(cls, "bl_label", "")
        for row in cls.bl_rna.properties:
            if row.identifier not in bpy.types.Operator.bl_rna.properties and row.name != row.identifier:
                yield row.name
                yield from (item.name for item in getattr(row, "enum_items", ()))


def test_labels_are_in_title_case(ext):
    wrong = []
    for label in set(labels(ext)):
        words = label.split(" (")[0].split()
        for place, word in enumerate(words):
            inner = 0 < place < len(words) - 1 and word in SMALL
            if word[:1].islower() and not inner and word not in ("mm", "kg", "kWh"):
                wrong.append(label)
    assert wrong == []


def test_a_new_wearer_gets_the_maker_s_printer_material_and_folder(ext, tmp_path):
    chosen = usual(ext)
    before = {name: getattr(chosen, name) for name in ("folder", "nozzle_mm", "bed_x_mm", "material")}
    chosen.folder, chosen.nozzle_mm, chosen.bed_x_mm, chosen.material = str(tmp_path), 0.6, 300.0, "asa"
    try:
        bpy.ops.sealwright.add_wearer(name="Ada")
        recipe = wearers()[0].recipe
        assert round(recipe.printer.nozzle_mm, 6) == 0.6 and recipe.printer.bed_x_mm == 300.0
        assert recipe.allowance.material == "asa"
        assert bpy.context.scene.sealwright.export_folder == str(tmp_path)
        bpy.context.scene.sealwright.export_folder = "//mine"
        bpy.ops.sealwright.add_wearer(name="Ben")  # a second one does not move the folder of the file
        assert bpy.context.scene.sealwright.export_folder == "//mine"
    finally:
        for name, value in before.items():
            setattr(chosen, name, value)


@pytest.mark.parametrize(
    ("said", "wanted"),
    [  # 25.4 mm are one inch, exactly (international yard and pound agreement, 1959)
        ("The gap is 25.4 mm wide.", "The gap is 1.000 in wide."),
        ("A face is 100 to 140 mm long.", "A face is 3.94 to 5.51 in long."),
        ("Flow 40 mm/s, area 12 mm2, 12 mmHg.", "Flow 40 mm/s, area 12 mm2, 12 mmHg."),
    ],
)
def test_inches(ext, said, wanted):
    assert ext("view.lengths").inches(said) == wanted


def test_lengths_are_millimetres_until_inches_are_asked_for(ext):
    shown = ext("view.lengths").shown
    assert shown("1 mm") == "1 mm"
    usual(ext).lengths = "IN"
    try:
        assert shown("1 mm") == "0.04 in"
    finally:
        usual(ext).lengths = "MM"


def test_german(ext):
    """All buttons, panels and whole sentences of the next step are said; every text is one of the list."""
    folder = REPO / "blender_addon" / "languages"
    texts, german = (json.loads((folder / f"{name}.json").read_text()) for name in ("texts", "de"))
    assert set(german) <= set(texts)
    classes = [getattr(bpy.types, name) for name in dir(bpy.types) if "SEALWRIGHT_" in name]
    shown = {cls.bl_label for cls in classes if getattr(cls, "bl_label", "")} - {"Sealwright"}
    assert {label for label in shown if label in texts} - set(german) == set()
    assert {text for text in texts if text.startswith("Next: ")} <= set(german)
    view = bpy.context.preferences.view
    if "de_DE" not in bpy.app.translations.locales:
        pytest.skip("this Blender was built without languages")
    view.language, view.use_translate_interface = "de_DE", True
    try:
        assert bpy.app.translations.pgettext_iface("Find Face", "Operator") == "Gesicht finden"
    finally:
        view.language = "en_US"


def test_german_keeps_the_parts_of_a_sentence():
    """What is put into a sentence is named alike in both languages."""
    texts = json.loads((REPO / "blender_addon" / "languages" / "de.json").read_text(encoding="utf-8"))
    parts = {text: set(re.findall(r"{\w+}", text)) for text in texts}
    assert sum(map(bool, parts.values())) > 20
    assert {text for text, said in texts.items() if set(re.findall(r"{\w+}", said)) != parts[text]} == set()


def test_only_the_printed_parts_are_in_a_render(ext):
    after("take_scan", "find_face", "lay_seal_line", "add_ruler", "preview_body", "build_parts")
    bpy.ops.sealwright.show_map(kind="gap")
    ours = [o for o in bpy.data.objects if "sealwright" in o and o.type not in ("EMPTY",)]
    seen = {o["sealwright"] for o in ours if not o.hide_render}
    assert {tag for tag in seen if not tag.startswith("part:") and tag != "cushion"} == set()
    assert any(tag.startswith("part:") for tag in seen)


def test_two_wearers_are_not_drawn_over_each_other(ext):
    bpy.context.scene.unit_settings.scale_length = 0.001
    state = bpy.context.scene.sealwright
    ada = add_head()
    bpy.ops.sealwright.take_scan()
    bpy.ops.sealwright.find_face()
    bpy.ops.sealwright.add_wearer(name="Ben")
    ben = add_head(name="head")
    bpy.ops.sealwright.take_scan()
    bpy.ops.sealwright.find_face()

    def seen():
        bpy.context.view_layer.update()
        return [
            ada.visible_get(),
            ben.visible_get(),
            *(
                any(o.visible_get() for _, o in ext("model.wearers").tagged(w, "landmark:"))
                for w in wearers()
            ),
        ]

    assert seen() == [False, True, False, True]
    state.active = 0
    assert seen() == [True, False, True, False]
    state.show_all = True
    assert seen() == [True] * 4
    state.show_all = False
    assert seen() == [True, False, True, False]
    ada.hide_set(True)  # what the maker hides stays hidden
    state.active = 1
    state.active = 0
    assert seen()[:2] == [False, False]


def test_turning_the_view_is_no_step_to_undo():
    after("take_scan", "find_face", "lay_seal_line")
    bpy.ops.ed.undo_push(message="before")
    wearers()[0].recipe.band.width_mm = 18.0
    bpy.ops.ed.undo_push(message="value")
    bpy.ops.sealwright.show_landmark("EXEC_DEFAULT", True, name="menton")
    bpy.ops.sealwright.show_sector("EXEC_DEFAULT", True, index=0)
    bpy.ops.ed.undo()
    assert wearers()[0].recipe.band.width_mm == 22.0


def test_a_first_mask_takes_twelve_clicks_at_most(ext, tmp_path):
    """From an empty file to exported parts, by the buttons of the panel Next alone."""
    add_head()
    bpy.ops.wm.stl_export(filepath=str(tmp_path / "face.stl"), export_selected_objects=True)
    bpy.ops.wm.read_homefile(use_empty=True)
    clicks = 1 + 3  # the tab; Import Scan, the file, and Blender's own button in the file browser
    bpy.ops.sealwright.import_scan(filepath=str(tmp_path / "face.stl"))
    said = ""
    while said != "export_parts":
        said = ext("jobs.state").next_step(bpy.context)[1]
        clicks += 1
        assert clicks < 12
        if said != "export_parts":
            getattr(bpy.ops.sealwright, said)()
    assert ext("operators.export").nowhere(bpy.context.scene.sealwright.export_folder)
    bpy.ops.sealwright.choose_folder(directory=str(tmp_path / "out"))  # asked for by Export: one click more
    failing = any(row.verdict == "fail" for row in wearers()[0].checks)
    clicks += 1 + 2 * failing  # a failing check is asked about: the box, and the button
    assert bpy.ops.sealwright.export_parts(failing=failing) == {"FINISHED"}
    assert clicks <= 12, clicks

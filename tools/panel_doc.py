"""Write docs/panels.md: every panel with its picture, every button and every value, from the code.

``python tools/panel_doc.py`` writes it; ``--check`` only says whether it is up to date. What a button does is
its tooltip (the docstring of its operator); what a value does is its reason in the recipe.
"""

from __future__ import annotations

import ast
import importlib.util
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from made_page import write_or_check
from recipe_fields import fields_of

REPO = Path(__file__).resolve().parents[1]
PAGE = REPO / "docs" / "panels.md"
ADDON = REPO / "blender_addon"
HEAD = """# Every panel

The tab **Sealwright** in the sidebar of the 3D view (press N) holds the job from top to bottom. Its first
lines say what comes next and do it; while a long step runs they show its name and percentage, and Esc stops
it. A refused step leaves its message there until the next one succeeds: [every refusal](errors.md). The first
line of each panel says what to do in it. The panel of the step that comes next opens by itself and the
others close; one that you open yourself stays open while you work at that step and change values. Buttons
that cannot be pressed say why in their tooltip.

All values are saved in the .blend and in recipe files ([all keys](recipe.md)). Lengths are millimetres
whatever the scene's unit scale is.

| dark theme | light theme |
| --- | --- |
| ![Dark](pictures/window-dark.png) | ![Light](pictures/window-light.png) |

*Made by `tools/panel_doc.py` from the code.*
"""


@dataclass(frozen=True)
class Page:
    """One panel: title, picture, purpose, its operators, sections with the values it shows."""

    title: str
    picture: str
    text: str
    buttons: tuple[str, ...]
    sections: tuple[str, ...] = ()
    only: tuple[str, ...] = ()


PANELS = (
    Page(
        "Scan",
        "panel-scan",
        "Whose face, which mesh, how large. Drop an STL, PLY, OBJ or GLB file into the view, use File > "
        "Import, or take a mesh that is there; modifiers, parents, mirroring and uneven scales count, "
        "and the mesh itself is never changed. **Unit** says what one Blender unit of the scan is. "
        "Several wearers may be in one file, each with a recipe and a collection, and several designs for "
        "one wearer. The scale can be measured: "
        "drag the two ruler points to places whose distance you know; or let a flat object of known size lie "
        "in the scan, a bank card (ISO/IEC 7810 ID-1) or a rectangle such as a box or a piece of tape. Put "
        "the 3D cursor on its middle, or select its faces in the scan's edit mode: both sides are measured, "
        "and if their scales differ by more than 0.5 % and the noise, the scan is refused as distorted. The "
        "box below tells the scale of the scan, the wearer scale and the shrinkage apart.",
        (
            "add_wearer",
            "add_design",
            "remove_wearer",
            "take_scan",
            "import_scan",
            "use_fitting_unit",
            "add_ruler",
            "use_ruler",
            "use_reference",
        ),
        ("scan",),
        ("wearer_scale", "smoothing_mm", "fill_mm"),
    ),
    Page(
        "Landmarks",
        "panel-landmarks",
        "Named points on the skin, with how sure each is; a question mark stands at those under 70 %. "
        "Click a name to select its point, then drag it (G): it sticks to the skin. Moved points stay "
        "when the face is found again. Left and right are the wearer's. Above them stands the score of the "
        "orientation (found by itself it is refused under 0.3 of 1), and what was mended on the scan or is "
        "in doubt. Where the face is not found by itself, **Three Clicks** asks for both outer eye corners "
        "and the nose tip in the view; they say only where the face is, so they need not be exact: the "
        "landmarks are still sought on the skin.",
        ("find_face", "three_clicks", "forget_clicks", "set_landmark", "reset_landmarks", "show_landmark"),
    ),
    Page(
        "Seal Line",
        "panel-seal-line",
        "The closed line along which the mask seals. An untouched line follows its values; an edited one "
        "is yours. **Draw Line** takes one stroke of mouse or pen on the bare skin: once round it is the "
        "whole line; where it begins and ends at the line it is a new course for that part. With **Mirror"
        " While Dragging** the other side follows. While you drag, spots are marked: orange where it "
        "bends too sharply, red near lip, nostril or eye, pink off the scanned skin. Below the buttons "
        "stands how far the scanned skin under the seal can be trusted: one verdict, then each sector "
        "that is doubtful or to be scanned again, with its reason and what to do; click one and the view "
        "turns to it. In the view long yellow dashes mark doubtful sectors, short red ones those to scan "
        "again, each with its name. What was changed on the skin under the seal is told with its amounts."
        " Left and right are the wearer's.",
        (
            "lay_seal_line",
            "edit_seal_line",
            "draw_seal_line",
            "smooth_seal_line",
            "add_seal_point",
            "remove_seal_point",
            "mirror_seal_line",
            "show_sector",
        ),
        ("seal_line",),
    ),
    Page(
        "Body",
        "panel-body",
        "The coarse preview follows every value while **Live Preview** is on; the parts in full quality "
        "are built on demand. **Handles** stand in the view on ports (distance, tilt, turn), lugs and the"
        " edge of the band: drag one and the preview follows, as with its number. An editable quad mesh "
        "of the body is laid beside the printable solid. Parts that you edited by hand are set aside "
        "under a name that says so, never overwritten. The kinds **Shell** and **Trim** are "
        "[shapes of your own](own-shapes.md): a shell over an outline, a model trimmed to the face; the "
        "chamber of a mask can be a cage of your own.",
        (
            "preview_body",
            "build_parts",
            "move_handle",
            "draw_outline",
            "outline_from",
            "edit_outline",
            "add_opening",
            "remove_opening",
            "use_model",
            "take_cage",
            "use_cage",
        ),
        ("", "band", "cushion", "chamber", "tube", "shell", "trim"),
        ("title", "kind"),
    ),
    Page(
        "Ports and holder",
        "panel-ports",
        "The chamber wall runs into the first port; side ports, for example for a valve, are added "
        "after it. Only the values that the chosen kind has are shown. The holder of the filter medium "
        "screws on the first port. On a shape of your own stand ports and lugs where you click, at the 3D "
        "cursor or at a selected face, and closed meshes of yours are cut out of it.",
        ("add_port", "remove_port", "stand_fitting", "remove_fitting", "cut_here", "remove_cutter"),
        ("ports", "holder"),
    ),
    Page("Straps", "panel-straps", "The lugs for the straps and where they sit.", (), ("straps",)),
    Page(
        "Checks",
        "panel-checks",
        "Every check with what was found, the limit, and how to mend it; click one and the view turns "
        "to the place. **Examine** adds soundness, print, predicted pressure and leak. A prediction is "
        "no fit test. **Try Remedies** then wears a thicker cushion, a wider band and the like on this face "
        "and says what helps. **Better Designs** searches widths, cushion, heights and strap places; what it "
        "finds is a list here and a plot in the view, pressure across and how often it works up: click a dot "
        "to choose it, the square is your own design. **Use This Design** takes its values.",
        (
            "examine",
            "try_remedies",
            "show_map",
            "show_check",
            "search_designs",
            "choose_design",
            "use_design",
        ),
    ),
    Page(
        "Print",
        "panel-print",
        "Recipes, allowances of the material and the printer, file names, export. Export writes STL "
        "files, one 3MF with all parts, the report and the recipe, all or none, and only what stands in the "
        "view and is not out of date. Where checks fail, or a part was changed by hand, it asks first: a "
        "changed part is written as it is, examined like any other, or left out. **Share Scene** is for "
        "another maker: the file shows the skin round nose and mouth, so ask the wearer before you send "
        "it.",
        (
            "apply_preset",
            "keep_preset",
            "load_recipe",
            "save_recipe",
            "take_recipe",
            "export_parts",
            "choose_folder",
            "ask_export",
            "share_scene",
        ),
        ("allowance", "printer"),
    ),
    Page(
        "A problem",
        "problem",
        "What is wrong and how to mend it, with the place marked in the view.",
        ("show_place", "dismiss_problem"),
    ),
)
MAPS = """
## In the view

| Draw Line: a part of the line anew | handles on ports, lugs and band |
| --- | --- |
| ![Draw Line](pictures/view-draw-line.png) | ![Handles](pictures/view-handles.png) |

![Better designs to choose from: a click on a dot chooses it](pictures/view-choices.png)

## Menu, keys, preferences

Every step is also in the menu **Object > Sealwright** (while the seal line is edited, **Curve >
Sealwright**), so that search (F3) finds it; Shift Alt W opens it. **Edit > Preferences > Add-ons >
Sealwright** holds what is the same for all your files: the folder of exports, printer and material of new
wearers, whether lengths are said in millimetres or inches, and the keys; steps without a key can be given
one there. Labels and whole sentences follow Blender's language where there is a file for it in
`blender_addon/languages` (German); `texts.json` beside it lists all texts.

## Maps

Colours run from dark to yellow as in the open map viridis, which stays in order for colour-blind eyes and in
grey; a white tick on the legend marks the limit. **Changes of the Skin** needs only the face, not the parts:
it lays the prepared face over the scan, coloured by how far smoothing moved the skin; filled holes are red,
pulled-back spikes pink spots. It stays in the file until the scan is prepared anew.

| gap to the skin | wall thickness |
| --- | --- |
| ![Gap](pictures/map-gap.png) | ![Wall](pictures/map-wall.png) |

| overhang, printed port down | predicted pressure |
| --- | --- |
| ![Overhang](pictures/map-overhang.png) | ![Pressure](pictures/map-pressure.png) |

| changes of the skin | verdicts on the seal line |
| --- | --- |
| ![Changes](pictures/map-skin.png) | ![Verdicts](pictures/view-trust.png) |
"""


def buttons() -> dict[str, tuple[str, str]]:
    """Operator -> label and tooltip, read from the code."""
    found = {}
    for path in sorted((ADDON / "operators").glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and "_OT_" in node.name:
                values = {
                    line.targets[0].id: line.value.value
                    for line in node.body
                    if isinstance(line, ast.Assign)
                    and isinstance(line.targets[0], ast.Name)
                    and isinstance(line.value, ast.Constant)
                }
                name = values["bl_idname"].partition(".")[2]
                found[name] = (values["bl_label"], ast.get_docstring(node) or "")
    return found


def label_module() -> Any:
    """The add-on's labels; its package cannot be imported without Blender."""
    spec = importlib.util.spec_from_file_location("labels", ADDON / "model" / "labels.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def values_of(page: Page, recipe: list[dict[str, Any]]) -> str:
    """The tables of a panel's values."""
    out, labels = "", label_module()
    for name in page.sections:
        fields = recipe if not name else next(f for f in recipe if f["name"] == name)["fields"]
        rows = rows_of(fields, labels, page.only if name in ("", "scan") else ())
        heading = f"**{name.replace('_', ' ').capitalize()}**\n\n" if len(page.sections) > 1 and name else ""
        out += f"\n{heading}| value | default | range | what it does |\n| --- | --- | --- | --- |\n{rows}"
    return out


def rows_of(fields: list[dict[str, Any]], labels: Any, only: tuple[str, ...], inside: str = "") -> str:
    """Table rows, inner sections after their own name."""
    out = ""
    for field in fields:
        kind = field["kind"]
        if (only and field["name"] not in only) or kind in ("points", "sections"):
            continue
        if kind == "section":
            out += rows_of(field["fields"], labels, (), f"{inside}{field['name'].replace('_', ' ')}: ")
            continue
        limits, default = "", field["default"]
        if kind in ("number", "integer"):
            limits = f"{field['low']:g} to {field['high']:g}"
            default = "automatic" if default is None else f"{default:g}"
        elif kind == "choice":
            limits = ", ".join(field["options"])
            default = "automatic" if default is None else default
        elif kind == "switch":
            default = "on" if default else "off"
        words = labels.label_of(field)
        words = f"{inside}{words[:1].lower()}{words[1:]}".capitalize() if inside else words
        out += f"| {words} | {default} | {limits} | {field['doc']} |\n"
    return out


def panel_page() -> str:
    """The whole page."""
    from sealwright.recipe import Recipe

    recipe, known, out = fields_of(Recipe), buttons(), HEAD
    told = [name for page in PANELS for name in page.buttons]
    if sorted(told) != sorted(known):
        raise SystemExit(f"Buttons told twice or never: {sorted(set(told) ^ set(known))}")
    for page in PANELS:
        out += f"\n## {page.title}\n\n![{page.title}](pictures/{page.picture}.png)\n\n{page.text}\n"
        if page.buttons:
            out += "\n| button | what it does |\n| --- | --- |\n"
            out += "".join(f"| {known[name][0]} | {known[name][1]}. |\n" for name in page.buttons)
        out += values_of(page, recipe)
    return out + MAPS


if __name__ == "__main__":
    raise SystemExit(write_or_check(PAGE, panel_page()))

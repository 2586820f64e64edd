"""Files of format 1 load as what they meant, and say what is written otherwise now."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from sealwright.errors import BadRecipe
from sealwright.recipe import Recipe, read_recipe_file, recipe_file_from_json, recipe_from_json
from sealwright.recipe.migration import migrated
from sealwright.settings import settings_to

from .strategies import RECIPES

SHIPPED = Path(__file__).resolve().parents[3] / "blender_addon" / "recipes"
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
ONE = {"format": "sealwright-recipe-1"}


def as_format_1(recipe: Recipe) -> dict:
    """A recipe as format 1 wrote it: the table of the migration the other way, from its description."""
    data = json.loads(json.dumps(settings_to(recipe)))
    data["scan"]["unit"] = data["scan"]["unit"] or "auto"
    if data["scan"]["smoothing_mm"] is None:
        data["scan"]["smoothing_mm"] = -1.0
    line = data["seal_line"]
    line["chin"], line["control_points"] = line["chin"] or "auto", line["control_points"] or []
    for port in data["ports"]:
        port["front"] = "auto" if port.pop("further_out") else "fixed"
        port["connection"]["ring"] = port["connection"]["ring"] or "auto"
        port["connection"]["valve"]["flap_thickness_mm"] = 0.8
    own = data["allowance"]
    percent = {axis: own.pop(f"shrink_{axis}_percent") for axis in "xyz"}
    room = own.pop("coating_room")
    by_axis = any(value is not None for value in percent.values())
    data["printer"]["allowances"] = {
        "shrink_from_material": not by_axis,
        **{f"shrink_{axis}_percent": value or 0.0 for axis, value in percent.items()},
        "coating_mm": own["coating_mm"] if room == "everywhere" else 0.0,
    }
    own["coating_mm"] = own["coating_mm"] if room == "mating" else 0.0
    own["shrinkage_percent"] = -1.0
    data["chamber"]["overhang_deg"] = data["printer"]["overhang_limit_deg"]
    data["prediction"]["straps"]["tension_n"] = 0.0
    data["prediction"]["filter"]["medium"] = ""
    return ONE | data


def meant(recipe: Recipe) -> Recipe:
    """What format 1 could say of a recipe: all axes measured or none, no room without a coating."""
    data = settings_to(recipe)
    own = data["allowance"]
    axes = [f"shrink_{axis}_percent" for axis in "xyz"]
    if any(own[name] is not None for name in axes):
        own |= {name: own[name] or 0.0 for name in axes}
    if own["coating_mm"] == 0.0:
        own["coating_room"] = "mating"
    return recipe_from_json(data)


@SLOW
@given(RECIPES)
def test_any_recipe_of_format_1_means_the_same(recipe) -> None:
    old = as_format_1(recipe)
    before = copy.deepcopy(old)
    read = recipe_file_from_json(old)
    assert old == before  # a pure function
    assert read.recipe == meant(recipe)
    assert [remark.level for remark in read.remarks] == ["note"]
    assert "ports[].front is ports[].further_out" in read.remarks[0].text


def test_format_2_says_nothing() -> None:
    assert recipe_file_from_json({"format": "sealwright-recipe-2"}).remarks == ()
    assert recipe_file_from_json({"format": "sealwright-recipe-2"}).recipe == Recipe()


def test_defaults_of_format_1_are_the_defaults() -> None:
    read = recipe_file_from_json(ONE)
    assert read.recipe == Recipe()
    assert len(read.remarks) == 1
    assert recipe_file_from_json(as_format_1(Recipe())).recipe == Recipe()


@pytest.mark.parametrize(
    ("old", "key", "value", "told"),
    [
        ({"chamber": {"overhang_deg": 50}}, "printer.overhang_limit_deg", 50, "50 degrees"),
        ({"printer": {"overhang_limit_deg": 38}}, "printer.overhang_limit_deg", 38, "38"),
        (
            {"chamber": {"overhang_deg": 60}, "printer": {"overhang_limit_deg": 40}},
            "printer.overhang_limit_deg",
            40,
            "60 degrees",
        ),
        ({"printer": {"overhang_limit_deg": 20}}, "printer.overhang_limit_deg", 30, "20"),
        ({"prediction": {"filter": {"medium": "glass_h13"}}}, "holder.medium", "meltblown", "glass_h13"),
        ({"prediction": {"straps": {"tension_n": 6}}}, "straps.tension_n", 6, "straps.tension_n is 6"),
        (
            {"allowance": {"coating_mm": 0.1}, "printer": {"allowances": {"coating_mm": 0.2}}},
            "allowance.coating_mm",
            0.1,
            "0.2",
        ),
        (
            {
                "allowance": {"shrinkage_percent": 1},
                "printer": {"allowances": {"shrink_from_material": False}},
            },
            "allowance.shrink_x_percent",
            0.0,
            "shrinkage_percent (1)",
        ),
    ],
)
def test_two_tellings_of_one_fact_give_a_warning(old: dict, key: str, value: object, told: str) -> None:
    read = recipe_file_from_json(ONE | old)
    section, name = key.split(".")
    assert getattr(getattr(read.recipe, section), name) == value
    warnings = [remark.text for remark in read.remarks if remark.level == "warning"]
    assert len(warnings) == 1
    assert told in warnings[0]


def test_one_shrinkage_for_all_axes_and_one_coating_move_without_warning() -> None:
    read = recipe_file_from_json(
        ONE | {"allowance": {"shrinkage_percent": 2}, "printer": {"allowances": {"coating_mm": 0.2}}}
    )
    own = read.recipe.allowance
    assert (own.shrink_x_percent, own.shrink_y_percent, own.shrink_z_percent) == (2.0, 2.0, 2.0)
    assert (own.coating_mm, own.coating_room) == (0.2, "everywhere")
    assert [remark.level for remark in read.remarks] == ["note"]
    assert "allowance.shrinkage_percent" in read.remarks[0].text


def test_wrong_values_of_format_1_are_refused_under_their_new_key() -> None:
    with pytest.raises(BadRecipe) as refusal:
        recipe_from_json(ONE | {"ports": [{"front": "sideways"}]})
    assert refusal.value.where.key == "recipe.ports[0].further_out"
    with pytest.raises(BadRecipe):
        recipe_from_json(ONE | {"chamber": {"overhang_deg": 10**400}})
    assert migrated({"ports": 3, "printer": []})[0] == {"ports": 3, "printer": []}


@pytest.mark.parametrize("path", sorted(SHIPPED.glob("*.json")), ids=lambda path: path.stem)
def test_shipped_recipes_are_of_this_format(path: Path) -> None:
    assert json.loads(path.read_text(encoding="utf-8"))["format"] == "sealwright-recipe-2"
    assert read_recipe_file(path).remarks == ()

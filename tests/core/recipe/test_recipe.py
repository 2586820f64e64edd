"""The recipe file: round trip, published schema, refusals with the place in the text."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from sealwright.errors import BadRecipe
from sealwright.recipe import FORMAT, Recipe, read_recipe, recipe_from_json, recipe_schema, recipe_to_json

SCHEMA = recipe_schema()
VALIDATOR = Draft202012Validator(SCHEMA)


def test_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert SCHEMA["additionalProperties"] is False


def test_recipe_survives_its_file_and_fits_the_schema() -> None:
    recipe = replace(Recipe(title='Ölmühle, "Nr. 7"'), kind="tube")
    written = recipe_to_json(recipe)
    assert recipe_from_json(written) == recipe
    assert not list(VALIDATOR.iter_errors(json.loads(written)))
    assert recipe_to_json(recipe_from_json(written)) == written  # to the byte


def test_file_says_format_and_maker() -> None:
    data = json.loads(recipe_to_json(Recipe()))
    assert data["format"] == FORMAT
    assert data["made_with"]


def test_short_recipe_takes_the_defaults() -> None:
    assert recipe_from_json("{}") == Recipe()
    assert recipe_from_json({"band": {"width_mm": 18}}).band.width_mm == 18.0
    assert recipe_from_json({"$schema": "recipe.schema.json"}) == Recipe()


def test_recipe_from_before_the_section_prediction_still_loads() -> None:
    old = json.loads(recipe_to_json(Recipe()))
    del old["prediction"]
    assert recipe_from_json(old) == Recipe()


@pytest.mark.parametrize(
    ("section", "wanted"),
    [
        ({"straps": {"upper_share": -1}}, "0.1 to 0.9"),
        ({"contact": {"foundation": {"skin": {"cheek_factor": 0}}}}, "0.05 to 20"),
        ({"fit": {"leak": {"flow_l_min": 0}}}, "L/min"),
    ],
)
def test_wrong_tension_stiffness_and_flow_are_refused_with_range_and_unit(section: dict, wanted: str) -> None:
    with pytest.raises(BadRecipe, match=wanted) as refusal:
        recipe_from_json({"prediction": section})
    assert refusal.value.where.key.startswith("recipe.prediction.")
    assert list(VALIDATOR.iter_errors({"prediction": section}))


def test_recipe_holds_no_shape_of_the_wearer() -> None:
    """Only the maker's own control points are geometry, and they are empty unless set."""
    data = json.loads(recipe_to_json(Recipe()))
    assert data["seal_line"]["control_points"] is None
    assert len(recipe_to_json(Recipe())) < 12_000


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('{"band": {"width_mm": 15,}}', "line 1, column"),
        ("", "line 1, column 1"),
        ('{"title": "a"\n "kind": "tube"}', "line 2, column 2"),
        ("[]", "format"),
        ("3", "format"),
        ('{"format": "sealwright-recipe-3"}', "format"),
        ('{"bend": {}}', "recipe.bend"),
        ('{"band": {"width_mm": 200}}', "recipe.band.width_mm"),
        ('{"band": {"width_mm": NaN}}', "recipe.band.width_mm"),
        ('{"ports": []}', "recipe.ports"),
        ('{"ports": [{"front_mm": 1000}]}', "recipe.ports[0].front_mm"),
        ('{"prediction": {"straps": {"upper_share": 99}}}', "recipe.prediction.straps.upper_share"),
        ('{"prediction": {"contact": {"stiffness": 1}}}', "recipe.prediction.contact.stiffness"),
    ],
)
def test_bad_recipe_is_refused_with_the_place(text: str, key: str) -> None:
    with pytest.raises(BadRecipe) as refusal:
        recipe_from_json(text)
    # Where the error lies in "15,}" differs between versions of Python.
    assert refusal.value.where.key.startswith(key)
    assert refusal.value.fix


def test_schema_refuses_what_the_reader_refuses() -> None:
    for text in ('{"bend": {}}', '{"band": {"width_mm": 200}}', "[]", '{"format": "sealwright-recipe-3"}'):
        assert list(VALIDATOR.iter_errors(json.loads(text)))


def test_tube_needs_no_port() -> None:
    assert recipe_from_json({"kind": "tube", "ports": []}).ports == ()


def test_missing_and_binary_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadRecipe, match="cannot be read") as refusal:
        read_recipe(tmp_path / "none.json")
    assert refusal.value.where.key == "none.json"
    broken = tmp_path / "broken.json"
    broken.write_bytes(b"\xff\xfe\x00{}")
    with pytest.raises(BadRecipe, match="cannot be read"):
        read_recipe(broken)


@pytest.mark.parametrize("text", ["[" * 100_000, '{"band": {"width_mm": 1' + "0" * 5000 + "}}"])
def test_endless_brackets_and_digits_are_refused(text: str) -> None:
    with pytest.raises(BadRecipe):
        recipe_from_json(text)

"""Reading is sturdy: any valid recipe survives its file; whatever is not one is refused and never a fault."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from sealwright.errors import BadRecipe
from sealwright.recipe import read_recipe, recipe_from_json, recipe_schema, recipe_to_json

from .strategies import JUNK, RECIPES

VALIDATOR = Draft202012Validator(recipe_schema())
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@SLOW
@given(RECIPES)
def test_any_recipe_survives_its_file_and_fits_the_schema(recipe) -> None:
    written = recipe_to_json(recipe)
    assert recipe_from_json(written) == recipe
    assert recipe_to_json(recipe_from_json(written)) == written
    assert not list(VALIDATOR.iter_errors(json.loads(written)))


@SLOW
@given(JUNK, st.sampled_from(["sealwright-recipe-1", "sealwright-recipe-2"]))
def test_junk_is_refused_and_nothing_else(junk, stated) -> None:
    """RFC 8259 data and what Python's writer makes of it besides (NaN, lone surrogates)."""
    data = {"format": stated, **junk} if isinstance(junk, dict) else junk
    for given_data in (data, json.dumps(data)):
        try:
            made = recipe_from_json(given_data)
        except BadRecipe as refusal:
            refusal.paragraph().encode("utf-8")
            assert refusal.fix
        else:
            assert recipe_from_json(recipe_to_json(made)) == made


@SLOW
@given(st.text(max_size=60))
def test_any_text_is_a_recipe_or_refused(text) -> None:
    try:
        recipe_from_json(text)
    except BadRecipe as refusal:
        assert refusal.fix


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ('{"band": {"width_mm": 12, "width_mm": 18}}', "'width_mm' stands twice"),
        ('{"title": "\\ud800"}', "recipe.title"),
        ('{"\\udfff": 1}', "half a surrogate pair"),
        ('{"band": {"width_mm": 1e999}}', "recipe.band.width_mm is inf"),
        ('{"band": {"width_mm": -Infinity}}', "recipe.band.width_mm is -inf"),
        ('{"scan": {"smoothing_mm": NaN}}', "recipe.scan.smoothing_mm is nan"),
        ('{"scan": {"smoothing_mm": -1}}', "null for automatic"),
        ('{"made_with": NaN}', "made_with"),
        ('{"band": ' + "[" * 40 + "]" * 40 + "}", "nested"),
        ('{"title": "' + "x" * 2_000_001 + '"}', "characters"),
        ('{"allowance": {"material": "unobtainium"}}', "petg"),
        ('{"holder": {"medium": "cheesecloth"}}', "meltblown"),
        ('{"ports": [{"connection": {"ring": "-999"}}]}', "-127"),
        ('{"ports": [{"connection": {"soft_material": "gum"}}]}', "tpu85a"),
        (
            '{"seal_line": {"control_points": [[1, 2, 3], [1, 2, 3], [1, 2, 3], [1, 2, 3]]}}',
            "every other point",
        ),
        ('{"seal_line": {"control_points": [[0, 0, 0], [1e299, 0, 0], [1, 2, 3], [4, 5, 6]]}}', "300 mm"),
        ('{"seal_line": {"control_points": [[0, 0, 0], [1, 2, 3], [4, 5, 6]]}}', "at least 4 points"),
    ],
)
def test_what_a_recipe_must_not_hold_is_refused_by_name(text: str, wanted: str) -> None:
    with pytest.raises(BadRecipe) as refusal:
        recipe_from_json(text)
    assert wanted in refusal.value.paragraph()
    assert len(refusal.value.what) < 1500


def test_byte_order_mark_is_taken_off(tmp_path: Path) -> None:
    path = tmp_path / "notepad.json"
    path.write_bytes(b'\xef\xbb\xbf{"title": "With a mark"}')
    assert read_recipe(path).title == "With a mark"
    assert recipe_from_json('\ufeff{"title": "Also"}').title == "Also"

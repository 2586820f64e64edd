"""The cushion of the recipe: its values, what it does to the band, and recipes of format 1 with a gasket."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from bare import bare_recipe
from physics.closed_forms import modulus_from_shore_a
from predict.wearers import invented
from sealwright.cushion.settings import KINDS, CushionSettings, cushion_of
from sealwright.designing.shape import seated_band
from sealwright.designing.sketch import sketch
from sealwright.errors import BadRecipe
from sealwright.predict.assumed import assumed_of
from sealwright.predict.band import band_on_skin
from sealwright.recipe import Recipe, recipe_from_json, recipe_to_json
from sealwright.recipe.file import FORMAT_BEFORE, recipe_file_from_json
from sealwright.tables import table

ROWS = table("cushions")["cushions"]


def before(data: dict) -> str:
    return json.dumps({"format": FORMAT_BEFORE, **data})


def gasket(**values: float) -> dict:
    return {"prediction": {"contact": {"foundation": {"gasket": values}}}}


@pytest.mark.parametrize("key", ROWS)
def test_every_row_has_ranges_source_and_confidence(key: str) -> None:
    row = ROWS[key]
    assert row["kind"] in KINDS and row["kind"] != "none"
    for name in ("modulus_kpa", "poisson", "compression_set_percent"):
        entry = row[name]
        assert entry["low"] <= entry["value"] <= entry["high"]
        assert entry["confidence"] in ("V", "M", "C")
        assert entry["source"]
    assert row["skin_note"].endswith(".")


def test_sponge_grades_are_those_of_the_standard() -> None:
    # ASTM D1056, pounds per square inch at 25 % compression, as several pages restate the grades (V).
    for key, low, high in (("foam_grade_1", 2, 5), ("foam_grade_2", 5, 9)):
        kpa = [psi * 6.894757 / 0.25 for psi in (low, high)]
        found = ROWS[key]["modulus_kpa"]
        assert [found["low"], found["high"]] == pytest.approx(kpa, abs=1.0)
        assert found["value"] == pytest.approx(np.mean(kpa), abs=5.0)
    assert ROWS["foam_grade_0"]["modulus_kpa"]["high"] == pytest.approx(2 * 6.894757 / 0.25, abs=1.0)


def test_modulus_of_a_solid_elastomer_is_that_of_its_hardness() -> None:
    for key in ("silicone_a_10", "tpu_85a"):
        row = ROWS[key]
        assert row["modulus_kpa"]["value"] == pytest.approx(
            modulus_from_shore_a(row["hardness_shore_a"]), rel=0.02
        )


def test_band_stands_off_by_what_is_left_of_a_seated_cushion() -> None:
    foam = replace(Recipe(), cushion=CushionSettings(kind="foam", thickness_mm=8.0))
    assert seated_band(foam).stand_off_mm == pytest.approx(7.2)
    assert seated_band(Recipe(cushion=CushionSettings(kind="none", thickness_mm=8.0))).stand_off_mm == 0.0
    lip = Recipe(cushion=CushionSettings(kind="lip", thickness_mm=4.0))
    assert seated_band(lip).stand_off_mm == pytest.approx(3.8)
    kept = replace(foam, band=replace(foam.band, stand_off_mm=-0.5))
    assert seated_band(kept).stand_off_mm == pytest.approx(6.7)


def test_unpressed_cushion_reaches_into_the_skin_by_its_seating() -> None:
    """The springs see the seating compression and not an open gap of the cushion's thickness."""
    recipe = Recipe(cushion=CushionSettings(kind="foam", thickness_mm=5.0, seating_percent=20.0))
    band = band_on_skin(sketch(invented(), recipe))
    assert np.median(band.gap_mm) == pytest.approx(-1.0, abs=1e-9)
    layer = assumed_of(recipe).contact.foundation.gasket
    assert (layer.thickness_mm, layer.modulus_kpa) == (5.0, ROWS["foam_upholstery"]["modulus_kpa"]["value"])
    assert assumed_of(bare_recipe()).contact.foundation.gasket.thickness_mm == 0.0


def test_material_of_another_kind_is_refused_with_those_that_fit() -> None:
    with pytest.raises(BadRecipe, match="silicone_a_10") as refusal:
        cushion_of(CushionSettings(kind="lip", material="foam_soft"))
    assert refusal.value.where.key == "recipe.cushion.material"
    own = cushion_of(CushionSettings(kind="foam", modulus_kpa=77.0, poisson=0.1))
    assert (own.modulus_kpa, own.poisson) == (77.0, 0.1)


def test_recipe_of_format_1_keeps_its_gasket_as_a_foam_cushion() -> None:
    read = recipe_file_from_json(
        before({**gasket(thickness_mm=2, modulus_kpa=80.0), "band": {"stand_off_mm": 2.5}})
    )
    made = read.recipe
    assert cushion_of(made.cushion) == replace(
        cushion_of(CushionSettings(kind="foam")),
        thickness_mm=2.0,
        seated_mm=2.0,
        modulus_kpa=80.0,
        poisson=0.3,
    )
    assert seated_band(made).stand_off_mm == pytest.approx(2.5)  # the parts stay as they were
    assert any("brings its own room" in remark.text for remark in read.remarks)
    assert recipe_from_json(recipe_to_json(made)) == made


def test_recipe_of_format_1_without_room_for_its_gasket_says_what_changes() -> None:
    read = recipe_file_from_json(before(gasket(thickness_mm=3.0)))
    assert (read.recipe.cushion.modulus_kpa, read.recipe.band.stand_off_mm) == (200.0, 0.0)
    assert any("left no room" in remark.text for remark in read.remarks)


def test_recipe_of_format_1_without_a_gasket_has_no_cushion() -> None:
    for data in (gasket(thickness_mm=0, modulus_kpa=90.0), gasket(), gasket(poisson=0.1)):
        assert recipe_from_json(before(data)) == Recipe()


def test_wrong_gasket_of_format_1_is_refused() -> None:
    for wrong in ("thick", -1.0, 40.0, True):
        with pytest.raises(BadRecipe):
            recipe_from_json(before(gasket(thickness_mm=wrong)))
    with pytest.raises(BadRecipe, match="gasket"):
        recipe_from_json({**gasket(modulus_kpa=100.0)})

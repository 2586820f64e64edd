"""Recipe values as properties: same fields, ranges and defaults as the core, and the round trip is exact."""

from __future__ import annotations

import json

import bpy
import pytest
from scenes import property_values


@pytest.fixture
def wearer(ext):
    bpy.ops.sealwright.add_wearer(name="Ada")
    return bpy.context.scene.sealwright.wearers[0]


def test_fields_are_the_core_s_own(ext):
    from_core = json.loads(json.dumps(ext("core.settings").settings_to(ext("core.recipe").Recipe())))
    assert_same_without_points(ext("model.props").defaults(), from_core)


def assert_same_without_points(mine, core):
    for key, value in mine.items():
        if isinstance(value, dict):
            assert_same_without_points(value, core[key])
        else:
            assert value == core[key], key
    assert set(core) - set(mine) <= {"control_points"}


def test_a_new_wearer_has_the_default_recipe(ext, wearer):
    assert (
        ext("core.recipe").recipe_from_json(ext("model.props").to_data(wearer.recipe))
        == ext("core.recipe").Recipe()
    )


def test_every_number_survives_the_round_trip(ext, wearer):
    props, recipe = ext("model.props"), ext("core.recipe")
    data = ext("core.settings").settings_to(recipe.Recipe())
    data["band"]["width_mm"] = 14.1  # not a float32 number
    data["ports"].append(dict(data["ports"][0], turn_deg=-33.3))
    props.from_data(wearer.recipe, data)
    back = recipe.recipe_from_json(props.to_data(wearer.recipe))
    assert back.band.width_mm == 14.1
    assert [p.turn_deg for p in back.ports] == [0.0, -33.3]


def test_values_stay_within_the_range(wearer):
    wearer.recipe.band.width_mm = 1e6
    assert wearer.recipe.band.width_mm == 30.0


def test_labels_say_the_unit(wearer):
    row = wearer.recipe.band.bl_rna.properties["width_mm"]
    assert row.name == "Width (mm)"
    assert row.unit == "NONE"  # plain numbers: a Blender length would change meaning with the scene scale
    assert wearer.recipe.band.bl_rna.properties["edge_roll_deg"].name == "Edge Roll (deg)"


def test_file_keeps_the_recipe(wearer, tmp_path):
    wearer.recipe.band.width_mm = 17.0
    before = property_values(bpy.context.scene.sealwright)
    path = str(tmp_path / "kept.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    assert len(bpy.context.scene.sealwright.wearers) == 0
    bpy.ops.wm.open_mainfile(filepath=path)
    assert property_values(bpy.context.scene.sealwright) == before

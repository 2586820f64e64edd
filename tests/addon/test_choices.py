"""Better designs: what a search finds is laid out to choose from, and a choice is values of the recipe."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest
from scenes import after


class Row:
    def __init__(self, kpa, share, grams):
        self.pressure_kpa, self.working, self.mass_g = kpa, share, grams


def test_dots_lie_where_their_numbers_are(ext):
    """Straight lines: the place of each dot read back with the axes' own ends."""
    rows = [Row(4.0, 0.9, 100.0), Row(5.0, 0.99, 130.0), Row(7.0, 0.5, 115.0)]
    for scale in (1.0, 2.0):
        plot = ext("view.choices").laid_out(rows, (50.0, 20.0), scale)
        left, bottom, width, height = plot.field
        for row, (x, y), radius in zip(rows, plot.dots, plot.radii, strict=True):
            kpa = np.interp(x, [left, left + width], plot.across)
            share = np.interp(y, [bottom, bottom + height], plot.up)
            assert (kpa, share) == (pytest.approx(row.pressure_kpa), pytest.approx(row.working))
            assert radius == pytest.approx(scale * (4.0 + 4.0 * (row.mass_g - 100.0) / 30.0))
        share = np.interp(plot.wanted, [bottom, bottom + height], plot.up)
        assert share == pytest.approx(ext("core.limits").limit("hold_share").value)
        box = plot.box
        assert box[0] <= left and left + width <= box[0] + box[2] and bottom + height <= box[1] + box[3]


def test_a_search_is_laid_out_and_its_choice_is_taken_and_undone(ext):
    wearer = after("take_scan", "find_face", "lay_seal_line")
    before = json.dumps(ext("model.props").to_data(wearer.recipe))
    with pytest.raises(RuntimeError, match="Search better designs first"):
        bpy.ops.sealwright.use_design()
    # the shortest search: sketches, no picks in full
    assert bpy.ops.sealwright.search_designs(tries=8, in_full=False) == {"FINISHED"}
    rows = wearer.choices
    assert [row.is_start for row in rows].count(True) == 1 and len(rows) > 1
    assert json.dumps(ext("model.props").to_data(wearer.recipe)) == before
    found = ext("view.choices")
    assert all(0.0 < row.working <= 1.0 and row.pressure_kpa > 0.0 and row.mass_g > 0.0 for row in rows)
    other = next(i for i, row in enumerate(rows) if not row.is_start)
    bpy.ops.ed.undo_push(message="searched")
    assert bpy.ops.sealwright.choose_design(index=other) == {"FINISHED"}
    assert found.plot_now(bpy.context)[0] == wearer
    assert bpy.ops.sealwright.use_design("EXEC_DEFAULT", True) == {"FINISHED"}
    recipe = bpy.context.scene.sealwright.wearers[0].recipe
    given, count = json.loads(rows[other].given), len(rows)
    assert given != json.loads(next(row for row in rows if row.is_start).given)
    for key, value in given.items():
        section, name = key.split(".")
        assert getattr(getattr(recipe, section), name) == pytest.approx(value)
    assert found.plot_now(bpy.context) is not None  # the designs are still those of these values
    bpy.ops.ed.undo()
    wearer = bpy.context.scene.sealwright.wearers[0]
    assert json.dumps(ext("model.props").to_data(wearer.recipe)) == before
    assert len(wearer.choices) == count
    wearer.recipe.chamber.wall_mm = 3.0
    ext("model.cache").touch()
    assert found.plot_now(bpy.context) is None
    with pytest.raises(RuntimeError, match="found from other values"):
        bpy.ops.sealwright.use_design()

"""Random values of the hardware give sound parts or a refusal that names a key; a sample of the long run."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sealwright.errors import DesignError
from sealwright.hardware.allowance import allowance_of
from sealwright.hardware.holder import make_holder
from sealwright.hardware.ports import make_port
from sealwright.recipe import Recipe
from sealwright.solids.boolean import Solid
from sealwright.solids.crossings import crossing_pairs
from trials.choices import every_choice, random_recipe


def parts_of(recipe) -> list[Solid]:
    port = recipe.ports[0].connection
    allowance = allowance_of(recipe.allowance)
    made = make_port(port, allowance)
    found = [made.bored, *made.extra]
    if port.kind in ("printed", "metric", "trapezoidal"):
        found += make_holder(recipe.holder, port, allowance).solids
    return found


@pytest.mark.parametrize("seed", range(12))
def test_random_hardware_is_sound_or_refused_by_name(seed: int) -> None:
    try:
        parts = parts_of(random_recipe(seed))
    except DesignError as refusal:
        assert refusal.code in ("does-not-fit", "bad-recipe")
        assert refusal.where.key
        return
    for part in parts:
        assert len(crossing_pairs(part.mesh)) == 0, part.role


def test_every_kind_and_preset_is_among_the_choices() -> None:
    names = [name for name, _ in every_choice()]
    for wanted in ("ports[0].connection.kind=valve", "exhalation.place=chin", "holder.shape=pad", "3 ports"):
        assert wanted in names
    assert {"dust-half-mask", "half-mask-with-valve", "quick-trimmed-tube"} <= set(names)


@pytest.mark.parametrize("opening_mm", [4.0, 5.0, 6.0, 10.0, 14.0])
def test_openings_of_the_grid_are_sound_or_refused(opening_mm: float) -> None:
    # 5 mm alone gave a holder with 26 crossing pairs once.
    recipe = replace(Recipe(), holder=replace(Recipe().holder, opening_mm=opening_mm))
    try:
        parts = parts_of(recipe)
    except DesignError as refusal:
        assert refusal.code == "does-not-fit"
        return
    assert all(len(crossing_pairs(part.mesh)) == 0 for part in parts)

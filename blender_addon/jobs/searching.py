# SPDX-License-Identifier: GPL-3.0-or-later
"""A search for better designs from the values of a wearer: its job, and its trade-off as rows in the file."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

from ..model.fingerprint import inputs_print
from ..model.recipe_text import recipe_of
from ..view.handles import spoken
from .own_shapes import Given, given_shapes
from .stages import gather_inputs, line_on, prepare_steps

if TYPE_CHECKING:
    from collections.abc import Iterator

    import bpy

    from ..core.designing.prepared import Prepared
    from ..core.progress import Job
    from ..core.recipe import Recipe
    from ..core.search.evaluator import Choice
    from ..core.search.full_check import FullCheck
    from ..core.search.improve import Improvement
    from ..model.wearers import SEALWRIGHT_PG_wearer
    from .stages import Inputs


def search_steps(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, tries: int, in_full: bool
) -> Job[Improvement]:
    """Gather now, then prepare (when something changed) and search.

    Parameters
    ----------
    tries : designs that are worked out at most.
    in_full : also design start and picks in full and judge them as their reports do.
    """
    recipe, inputs, given = recipe_of(wearer), gather_inputs(context, wearer), given_shapes(context, wearer)
    return _searching(prepare_steps(context, wearer, recipe, inputs), inputs, recipe, given, tries, in_full)


def _searching(
    preparing: Job[Prepared], inputs: Inputs, recipe: Recipe, given: Given, tries: int, in_full: bool
) -> Job[Improvement]:
    from ..core.jobs.examining import examination
    from ..core.search.evaluator import ImproveSettings
    from ..core.search.improve import improve_design_steps

    prepared = yield from preparing
    own, usual = line_on(prepared, inputs), ImproveSettings()
    if own is not None:
        kept = tuple((x, y, z) for x, y, z in own)
        recipe = replace(recipe, seal_line=replace(recipe.seal_line, control_points=kept))
    chosen = replace(usual, search=replace(usual.search, evaluations=tries), build_picks=in_full)
    form = given.form(prepared)
    return (yield from improve_design_steps(prepared, recipe, chosen, examine=examination, form=form))


def commit_choices(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, found: Improvement) -> None:
    """The start and the front as rows; the first pick is chosen in the list."""
    wearer.choices.clear()
    for choice, name, picks in choices_of(found):
        _write(wearer, choice, name, picks, found)
    wearer.choices_from = inputs_print(context, wearer)
    wearer.choice_taken = ""
    picked = [index for index, row in enumerate(wearer.choices) if row.picks]
    wearer.choice = picked[0] if picked else 0


def choices_of(found: Improvement) -> Iterator[tuple[Choice, str, str]]:
    """Each design to choose from with its name and what it was picked out for."""
    from ..core.search.improve_files import pick_names

    picks = pick_names(found)
    if found.start is not None:
        yield found.start, "Start", ""
    for number, choice in enumerate(found.front, start=1):
        if found.start is None or choice.values != found.start.values:
            yield choice, str(number), ", ".join(picks.get(number, ()))


def _write(wearer: SEALWRIGHT_PG_wearer, choice: Choice, name: str, picks: str, found: Improvement) -> None:
    from ..core.search.improve_files import spoken_value

    row, said = wearer.choices.add(), choice.numbers
    row.name, row.picks, row.is_start = name, picks, choice is found.start
    row.pressure_kpa, row.working, row.mass_g = said.pressure_kpa, said.working, choice.mass_g
    row.given = json.dumps(choice.values)
    base = found.start.values if found.start else {}
    other = {key: value for key, value in choice.values.items() if base.get(key, value) != value}
    row.change = "; ".join(f"{spoken(key)} {spoken_value(value)}" for key, value in other.items())
    checked = found.start_check if choice is found.start else _in_full(choice, found)
    if checked is not None and checked.working > 0.0:
        row.verdict = checked.verdict
        row.told = (
            f"Designed in full: {checked.pressure_kpa:.1f} kPa, works in {100 * checked.working:.0f} %, "
            f"straps {checked.pull_n:.1f} N, {checked.mass_g:.0f} g."
        )


def _in_full(choice: Choice, found: Improvement) -> FullCheck | None:
    return next((pick.full for pick in found.picks.values() if pick.values == choice.values), None)

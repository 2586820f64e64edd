# SPDX-License-Identifier: GPL-3.0-or-later
"""The wearer's recipe as text for a file: with what only this scan and face have, or without."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from .props import to_data
from .seal_curve import changed_points

if TYPE_CHECKING:
    import bpy

    from ..core.recipe import Recipe
    from .wearers import SEALWRIGHT_PG_wearer

FILE_UNITS = {"MM": "mm", "CM": "cm", "M": "m", "IN": "in"}  # a scene's unit scale is not the file's


def recipe_of(wearer: SEALWRIGHT_PG_wearer) -> Recipe:
    """The wearer's recipe as the core checks it; the scan comes in mm, whatever its file was in."""
    from ..core.recipe import recipe_from_json

    made = recipe_from_json(to_data(wearer.recipe))
    return replace(made, scan=replace(made.scan, unit="mm"))


def recipe_for_file(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, with_line: bool = True) -> str:
    """The wearer's recipe as JSON text, for the command line to give the same design from the scan file.

    Parameters
    ----------
    with_line : also write the control points of an edited seal line.
    """
    from ..core.recipe import recipe_to_json

    recipe = recipe_of(wearer)
    points = changed_points(context, wearer) if with_line else None
    if points is not None:
        kept = tuple((float(x), float(y), float(z)) for x, y, z in points)
        recipe = replace(recipe, seal_line=replace(recipe.seal_line, control_points=kept))
    unit = FILE_UNITS.get(wearer.unit)
    return recipe_to_json(replace(recipe, scan=replace(recipe.scan, unit=unit)))


def scale_note(wearer: SEALWRIGHT_PG_wearer) -> str:
    """What a recipe cannot say: a scale that was measured on this scan belongs to the scan alone."""
    if wearer.unit != "MEASURED":
        return ""
    mm = wearer.measured_mm
    return f" One unit of this scan was measured as {mm:.5g} mm; the recipe does not carry that."

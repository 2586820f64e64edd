"""A recipe with other values, and the bare variant that a design is compared with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .decisions import Recipe

BARE: Mapping[str, float | str] = {
    "cushion.kind": "none",
    "band.width_mm": 15.0,
    "band.thickness_mm": 2.4,
    "seal_line.smoothing_mm": 5.0,
    "straps.tension_n": 4.0,
}
"""A narrow rigid band on the skin itself, loosely pulled: the plainest mask, to hold others against."""


def with_values(recipe: Recipe, values: Mapping[str, float | str | None]) -> Recipe:
    """A recipe with other values at dotted keys of two parts."""
    for key, value in values.items():
        part, name = key.split(".")
        recipe = replace(recipe, **{part: replace(getattr(recipe, part), **{name: value})})
    return recipe


def bare_of(recipe: Recipe) -> Recipe:
    """The same mask as a bare rigid band."""
    return with_values(recipe, {**BARE, "contact_surface.shaped": False})

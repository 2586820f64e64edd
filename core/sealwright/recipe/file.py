"""Recipe files: read strictly, migrated from the format before, written the same for the same recipe."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from .. import __version__
from ..errors import BadRecipe, Remark, Where
from ..files import contents
from ..settings import check_settings, properties_of, schema_of, settings_from, settings_to
from ..settings.reading import quoted
from .decisions import Recipe, require_port
from .json_text import strict_json
from .migration import migrated

FORMAT = "sealwright-recipe-2"
FORMAT_BEFORE = "sealwright-recipe-1"
_BESIDE = ("format", "made_with", "about", "$schema")  # about the file, no decisions


@dataclass(frozen=True)
class RecipeFile:
    """A recipe as it was read.

    Attributes
    ----------
    recipe : the decisions.
    remarks : what the maker should know of the reading: a migration from the format before.
    """

    recipe: Recipe
    remarks: tuple[Remark, ...] = ()


def recipe_from_json(text_or_data: str | Mapping[str, object]) -> Recipe:
    """A recipe from JSON text or plain data; see `recipe_file_from_json`."""
    return recipe_file_from_json(text_or_data).recipe


def recipe_file_from_json(text_or_data: str | Mapping[str, object]) -> RecipeFile:
    """A recipe from JSON text or plain data of this format or the one before.

    Raises
    ------
    BadRecipe : not JSON, another format, an unknown key, a wrong type or a value out of range.
    """
    data = strict_json(text_or_data) if isinstance(text_or_data, str) else text_or_data
    found = data.get("format", FORMAT) if isinstance(data, Mapping) else None
    if not isinstance(data, Mapping) or found not in (FORMAT, FORMAT_BEFORE):
        raise BadRecipe(
            "This is not a recipe of this version"
            + (f": its format is {quoted(found)}." if isinstance(data, Mapping) else "."),
            Where("recipe", key="format"),
            f'Give an object with "format": "{FORMAT}" or "{FORMAT_BEFORE}".',
        )
    for name in _BESIDE:
        if not isinstance(data.get(name, ""), str):
            raise BadRecipe(f"{name} is no text.", Where("recipe", key=name), f"Leave {name} out.")
    rest = {key: value for key, value in data.items() if key not in _BESIDE}
    remarks: tuple[Remark, ...] = ()
    if found == FORMAT_BEFORE:
        rest, remarks = migrated(rest)
    recipe = settings_from(Recipe, rest)
    require_port(recipe)
    check_settings(recipe)
    return RecipeFile(recipe, remarks)


def recipe_to_json(recipe: Recipe) -> str:
    """A recipe as JSON text, the same text for the same recipe."""
    data = {"format": FORMAT, "made_with": __version__, **settings_to(recipe)}
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def recipe_schema() -> dict[str, object]:
    """The JSON schema (draft 2020-12) of recipes."""
    schema = schema_of(Recipe)
    extra = {
        "format": {"const": FORMAT},
        "made_with": {"type": "string"},
        "about": {"type": "string"},
        "$schema": {"type": "string"},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Sealwright recipe",
        **schema,
        "properties": {**extra, **properties_of(Recipe)},
    }


def read_recipe(path: Path) -> Recipe:
    """The recipe in a file; see `read_recipe_file`."""
    return read_recipe_file(path).recipe


def read_recipe_file(path: Path) -> RecipeFile:
    """The recipe in a file, and what to tell of the reading.

    Raises
    ------
    BadRecipe : missing, no regular file, too large, not text, or not a recipe.
    """
    try:
        text = contents(path, "recipe file", refusal=BadRecipe).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadRecipe(
            f"The recipe file cannot be read: {error}.",
            Where("recipe", key=path.name),
            "Give the path of a recipe saved as JSON.",
        ) from error
    return recipe_file_from_json(text)

"""The recipe: everything the maker decided, as one readable JSON file without any geometry of the wearer."""

from .changed import BARE, bare_of, with_values
from .decisions import Recipe, ScanSettings
from .file import (
    FORMAT,
    RecipeFile,
    read_recipe,
    read_recipe_file,
    recipe_file_from_json,
    recipe_from_json,
    recipe_schema,
    recipe_to_json,
)

__all__ = [
    "BARE",
    "FORMAT",
    "Recipe",
    "RecipeFile",
    "ScanSettings",
    "bare_of",
    "read_recipe",
    "read_recipe_file",
    "recipe_file_from_json",
    "recipe_from_json",
    "recipe_schema",
    "recipe_to_json",
    "with_values",
]

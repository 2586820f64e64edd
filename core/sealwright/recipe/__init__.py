"""The recipe: everything the maker decided, as one readable JSON file without any geometry of the wearer."""

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
    "FORMAT",
    "Recipe",
    "RecipeFile",
    "ScanSettings",
    "read_recipe",
    "read_recipe_file",
    "recipe_file_from_json",
    "recipe_from_json",
    "recipe_schema",
    "recipe_to_json",
]

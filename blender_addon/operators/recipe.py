# SPDX-License-Identifier: GPL-3.0-or-later
"""Recipes: to and from JSON files, kept as presets, taken over from another wearer."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ..core.errors import Where
from ..jobs.live import value_changed
from ..jobs.state import need_wearer
from ..model.naming import file_name
from ..model.props import from_data, to_data
from ..model.quiet import quiet
from ..model.recipe_files import own_folder, preset_items, preset_path
from ..model.recipe_text import recipe_for_file, scale_note
from ..model.seal_curve import draw_seal_line
from ..model.wearers import gather_wearer, scene_state
from ..view.messages import Refusal, Step, manager_of

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

    from ..core.errors import Remark
    from ..core.recipe import Recipe


class RecipeStep(Step):
    """Mixin: a wearer is needed."""

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)


def apply_recipe(context: bpy.types.Context, recipe: Recipe, remarks: Sequence[Remark] = ()) -> str:
    """Write a checked recipe into the active wearer's values; control points become the line.

    Parameters
    ----------
    remarks : what the maker should know of the reading; told after the wearer's name.
    """
    from ..core.settings import settings_to

    wearer = gather_wearer(context)
    with quiet():
        from_data(wearer.recipe, settings_to(recipe))
    value_changed(None, context)
    points = recipe.seal_line.control_points
    if points and wearer.prepared:
        import numpy as np

        draw_seal_line(context, wearer, np.array(points, dtype=np.float64), proposal=False)
    return " ".join([f"{wearer.name} has the recipe {recipe.title}.", *(r.text for r in remarks)])


class FileStep(RecipeStep):
    """Mixin: asks for a file name when none was given."""

    filepath: str

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the file."""
        if self.filepath:
            return self.execute(context)
        manager_of(context).fileselect_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}


class SEALWRIGHT_OT_save_recipe(FileStep, bpy.types.Operator):
    """Save the recipe as a JSON file; it holds your decisions, nothing of the wearer's face unless you ask"""

    bl_idname = "sealwright.save_recipe"
    bl_label = "Save Recipe"
    bl_options = {"REGISTER"}

    if TYPE_CHECKING:
        filepath: str
        filter_glob: str
        with_line: bool
    else:
        filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE", "PATH_SUPPORTS_BLEND_RELATIVE"})
        filter_glob: StringProperty(default="*.json", options={"HIDDEN"})
        with_line: BoolProperty(
            name="With My Seal Line",
            description="Also keep the points of an edited seal line; they tell of the wearer's face",
        )

    def run(self, context: bpy.types.Context) -> str:
        """Write the file."""
        from ..core.export.atomic import write_file

        path = Path(bpy.path.abspath(self.filepath)).with_suffix(".json")
        wearer = gather_wearer(context)
        write_file(path, recipe_for_file(context, wearer, self.with_line).encode())
        return f"The recipe was saved as {path.name}.{scale_note(wearer)}"


class SEALWRIGHT_OT_load_recipe(FileStep, bpy.types.Operator):
    """Load a recipe from a JSON file for this wearer"""

    bl_idname = "sealwright.load_recipe"
    bl_label = "Load Recipe"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        filepath: str
        filter_glob: str
    else:
        filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE", "PATH_SUPPORTS_BLEND_RELATIVE"})
        filter_glob: StringProperty(default="*.json", options={"HIDDEN"})

    def run(self, context: bpy.types.Context) -> str:
        """Read and check first, then write."""
        from ..core.recipe import read_recipe_file

        read = read_recipe_file(Path(bpy.path.abspath(self.filepath)))
        return apply_recipe(context, read.recipe, read.remarks)


class SEALWRIGHT_OT_apply_preset(RecipeStep, bpy.types.Operator):
    """Use one of the recipes that come along, or one of your own"""

    bl_idname = "sealwright.apply_preset"
    bl_label = "Preset"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        preset: str
    else:
        preset: EnumProperty(name="Preset", items=preset_items)

    def run(self, context: bpy.types.Context) -> str:
        """Read and check first, then write."""
        from ..core.recipe import read_recipe_file

        read = read_recipe_file(preset_path(self.preset))
        return apply_recipe(context, read.recipe, read.remarks)


class SEALWRIGHT_OT_keep_preset(RecipeStep, bpy.types.Operator):
    """Keep this recipe as a preset of your own"""

    bl_idname = "sealwright.keep_preset"
    bl_label = "Keep as Preset"
    bl_options = {"REGISTER"}

    if TYPE_CHECKING:
        name: str
    else:
        name: StringProperty(name="Name", default="My Recipe")

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the name."""
        return manager_of(context).invoke_props_dialog(self)  # type: ignore[arg-type]

    def run(self, context: bpy.types.Context) -> str:
        """Write the file into the extension's own folder."""
        from ..core.export.atomic import write_file

        path = own_folder() / f"{file_name('{part}', '', self.name, '')}.json"
        write_file(path, recipe_for_file(context, gather_wearer(context), False).encode())
        return f"The recipe was kept as {path.stem}."


def other_wearers(_self: Any, context: bpy.types.Context | None) -> list[tuple[str, str, str]]:
    """The wearers of the file other than the active one."""
    if context is None:
        return []
    state = scene_state(context)
    _shown[:] = [(str(i), w.name, "") for i, w in enumerate(state.wearers) if i != state.active]
    return _shown


_shown: list[tuple[str, str, str]] = []  # Blender keeps only a pointer to the texts of a list made on the fly


class SEALWRIGHT_OT_take_recipe(RecipeStep, bpy.types.Operator):
    """Take the recipe over from another wearer of this file"""

    bl_idname = "sealwright.take_recipe"
    bl_label = "Take Recipe From"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        wearer: str
    else:
        wearer: EnumProperty(name="Wearer", items=other_wearers)

    def run(self, context: bpy.types.Context) -> str:
        """Copy all values."""
        from ..core.recipe import recipe_from_json

        state = scene_state(context)
        if not self.wearer:
            raise Refusal(
                "There is no other wearer in this file.",
                Where("wearers"),
                "Add another wearer, or load a recipe file.",
            )
        return apply_recipe(
            context, recipe_from_json(json.dumps(to_data(state.wearers[int(self.wearer)].recipe)))
        )


CLASSES = (
    SEALWRIGHT_OT_save_recipe,
    SEALWRIGHT_OT_load_recipe,
    SEALWRIGHT_OT_apply_preset,
    SEALWRIGHT_OT_keep_preset,
    SEALWRIGHT_OT_take_recipe,
)

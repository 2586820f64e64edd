# SPDX-License-Identifier: GPL-3.0-or-later
"""Print: parts as STL and one 3MF, with the measurements, under names the maker chose."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import bpy

from ..core.errors import Where
from ..jobs.job import JobStep
from ..jobs.stages import made_steps
from ..jobs.state import need_design
from ..model.naming import file_name
from ..model.recipe_text import recipe_for_file, scale_note
from ..model.wearers import gather_wearer, scene_state
from ..view.messages import Refusal

if TYPE_CHECKING:
    from ..core.jobs.make import Made
    from ..core.progress import Job
    from ..jobs.job import Steps


class SEALWRIGHT_OT_export_parts(JobStep, bpy.types.Operator):
    """Write the parts as STL and one 3MF, the measurements and the recipe into the folder"""

    bl_idname = "sealwright.export_parts"
    bl_label = "Export Parts"
    bl_options = {"REGISTER"}
    title = "Exporting"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_design(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Examine the design (built again when this session does not know it); make the files' contents."""
        state, wearer = scene_state(context), gather_wearer(context)
        folder = export_folder(state.export_folder)

        def name(part: str) -> str:
            return file_name(state.export_name, wearer.name, part, state.export_date)

        name("part")  # refuse a bad pattern before the work
        recipe = recipe_for_file(context, wearer)
        return _named(made_steps(context, wearer), folder, name, recipe)

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write all files, or none."""
        from ..core.export.atomic import write_files

        written = write_files(result)
        return f"{len(written)} files in {written[0].parent}.{scale_note(gather_wearer(context))}"


def export_folder(typed: str) -> Path:
    """The folder as an absolute path.

    Raises
    ------
    Refusal : it is relative to a file that was never saved.
    """
    if typed.startswith("//") and not bpy.data.filepath:
        raise Refusal(
            "The export folder is relative to a file that was not saved yet.",
            Where("export folder", key=typed),
            "Save the file, or choose another folder in the Print panel.",
        )
    return Path(bpy.path.abspath(typed))


def _named(
    making: Job[Made], folder: Path, name: Callable[[str], str], recipe: str
) -> Job[dict[Path, bytes]]:
    """The files of a finished folder under the maker's names; the recipe as the command line reads it."""
    made = yield from making
    files = {}
    for inner, data in sorted(made.files.items()):
        path = PurePosixPath(inner)
        content = recipe.encode() if inner == "recipe.json" else data
        files[folder / path.parent / f"{name(path.stem)}{path.suffix}"] = content
    return files


CLASSES = (SEALWRIGHT_OT_export_parts,)

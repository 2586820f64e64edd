# SPDX-License-Identifier: GPL-3.0-or-later
"""Print: parts as STL and one 3MF, with the measurements, under names the maker chose."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy

from ..core.errors import Where
from ..job import JobStep
from ..messages import Refusal
from ..naming import file_name
from ..output import plain_number
from ..stages import design_steps, gather_wearer, recipe_for_file
from ..state import need_design
from ..wearers import scene_state

if TYPE_CHECKING:
    from ..core.design import Design
    from ..core.progress import Job
    from ..job import Steps


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
        """Take the design (built again when this session does not know it) and make the files' contents."""
        state, wearer = scene_state(context), gather_wearer(context)
        folder = export_folder(state.export_folder)

        def name(part: str) -> str:
            return file_name(state.export_name, wearer.name, part, state.export_date)

        name("part")  # refuse a bad pattern before the work
        recipe = recipe_for_file(context, wearer)
        return _contents(design_steps(context, wearer), folder, name, recipe)

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write all files, or none."""
        from ..core.export.atomic import write_files

        written = write_files(result)
        return f"{len(written)} files in {written[0].parent}."


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


def _contents(making: Job[Design], folder: Path, name: Any, recipe: str) -> Job[dict[Path, bytes]]:
    from ..core.export.stl import stl_bytes
    from ..core.export.threemf import About, PrintPart, threemf_bytes
    from ..core.progress import Step

    made = yield from making
    files: dict[Path, bytes] = {}
    for number, (part, solid) in enumerate(made.parts.items()):
        yield Step(0.5 + 0.3 * number / len(made.parts), f"Writing {part}")
        files[folder / f"{name(part)}.stl"] = stl_bytes(solid.mesh, part)
    yield Step(0.8, "Writing 3MF")
    material = made.recipe.allowance.material
    parts = [PrintPart(part, solid.mesh, material) for part, solid in made.parts.items()]
    files[folder / f"{name('mask')}.3mf"] = threemf_bytes(parts, None, About(title=made.recipe.title))
    report = {
        "scan_to_design": made.prepared.scan_to_design.tolist(),
        "facts": made.facts,
        "remarks": [{"level": r.level, "text": r.text} for r in made.remarks],
    }
    text = json.dumps(report, indent=2, default=plain_number)
    files[folder / f"{name('fit-report')}.json"] = (text + "\n").encode()
    files[folder / f"{name('recipe')}.json"] = recipe.encode()
    return files


CLASSES = (SEALWRIGHT_OT_export_parts,)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Print: parts as STL and one 3MF, with the measurements, under names the maker chose.

Only what stands in the file and is current is written. What the maker should decide first (failed checks,
parts that a hand has changed) is asked in a dialog; a script answers by the operator's properties.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ..core.errors import Where
from ..jobs.job import JobStep
from ..jobs.stages import shown_steps
from ..jobs.state import need_design
from ..model.naming import file_name
from ..model.recipe_text import recipe_for_file, scale_note
from ..model.wearers import gather_wearer, scene_state
from ..view.messages import Refusal, Step, manager_of, state_of, window_state
from ..view.standing import edited_parts

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

    from ..core.jobs.make import Made
    from ..core.progress import Job
    from ..jobs.job import Steps


EDITED = (
    ("ASK", "Ask", "Refuse while a part is changed by hand and nothing was chosen"),
    ("AS_EDITED", "As Edited", "Write the changed part, examined like any other"),
    ("LEAVE_OUT", "Leave Out", "Write only the other parts"),
)


class SEALWRIGHT_OT_export_parts(JobStep, bpy.types.Operator):
    """Write the parts as STL and one 3MF, the measurements and the recipe into the folder"""

    bl_idname = "sealwright.export_parts"
    bl_label = "Export Parts"
    bl_options = {"REGISTER"}
    title = "Exporting"

    if TYPE_CHECKING:
        edited: str
        failing: bool
    else:
        edited: EnumProperty(name="Changed by Hand", items=EDITED, options={"SKIP_SAVE"})
        failing: BoolProperty(name="Although Checks Fail", options={"SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_design(context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask what is to be decided first, then start."""
        if context.window is not None and asks_first(context, self.edited, self.failing):
            return {"CANCELLED"}
        return super().invoke(context, event)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Examine what stands (built again when this session does not know it); make the files' contents."""
        return gathered(context, self.edited, self.failing)

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write all files, or none."""
        from ..core.export.atomic import write_files

        written = write_files(result)
        wearer, window = gather_wearer(context), window_state(context)
        window.last_report = str(next(p for p in written if p.suffix == ".html"))
        window.report_of = state_of(context, wearer)
        return f"{len(written)} files in {written[0].parent}.{scale_note(wearer)}"


def asks_first(context: bpy.types.Context, edited: str, failing: bool) -> bool:
    """Ask what is to be decided before an export; False where nothing is."""
    if nowhere(scene_state(context).export_folder):
        asking = "choose_folder"
    elif open_questions(context, edited, failing):
        asking = "ask_export"
    else:
        return False
    getattr(bpy.ops.sealwright, asking)("INVOKE_DEFAULT")  # type: ignore[attr-defined]
    return True


def gathered(context: bpy.types.Context, edited: str, failing: bool) -> Steps:
    """The work of an export: folder, names, recipe and the parts as they stand.

    Raises
    ------
    Refusal : something was not decided, or the folder is nowhere.
    """
    for question in open_questions(context, edited, failing):
        raise question
    state, wearer = scene_state(context), gather_wearer(context)
    folder = export_folder(state.export_folder)

    def name(part: str) -> str:
        return file_name(state.export_name, wearer.name, part, state.export_date)

    name("part")  # refuse a bad pattern before the work
    making = shown_steps(context, wearer, edited_parts(context, wearer), edited == "LEAVE_OUT")
    return _named(making, folder, name, recipe_for_file(context, wearer), failing)


def nowhere(typed: str) -> bool:
    """Whether a folder is relative to a file that was never saved."""
    return typed.startswith("//") and not bpy.data.filepath


def export_folder(typed: str) -> Path:
    """The folder as an absolute path.

    Raises
    ------
    Refusal : it is relative to a file that was never saved.
    """
    if nowhere(typed):
        raise Refusal(
            "The export folder is relative to a file that was not saved yet.",
            Where("export folder", key=typed),
            "Save the file, or choose another folder in the Print panel.",
        )
    return Path(bpy.path.abspath(typed))


def to_decide(context: bpy.types.Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Parts that a hand has changed, and checks on the panel that fail: what the maker is asked about."""
    wearer = gather_wearer(context)
    failed = tuple(row.name for row in wearer.checks if row.verdict == "fail")
    return edited_parts(context, wearer), failed


def open_questions(context: bpy.types.Context, edited: str, failing: bool) -> list[Refusal]:
    """What the maker has not answered yet, as the refusals a script gets."""
    hands, failed = to_decide(context)
    asked = [_undecided(hands)] if hands and edited == "ASK" else []
    return asked + ([failing_checks(failed)] if failed and not failing else [])


def _undecided(hands: Sequence[str]) -> Refusal:
    return Refusal(
        f"Changed by hand since it was built: {', '.join(hands)}.",
        Where("parts", key=hands[0]),
        "Choose whether to export it as it is now, or to leave it out; or build again.",
    )


def failing_checks(names: Sequence[str]) -> Refusal:
    """Checks fail, and the maker has not said to export all the same."""
    return Refusal(
        f"Checks that fail: {', '.join(names)}. Nothing was written.",
        Where("checks", key=names[0]),
        "Press Examine and read the Checks panel; mend what it names, or export although checks fail.",
    )


class SEALWRIGHT_OT_choose_folder(Step, bpy.types.Operator):
    """Choose the folder that the parts are written into, then export them"""

    bl_idname = "sealwright.choose_folder"
    bl_label = "Export Here"
    bl_options = {"INTERNAL"}

    if TYPE_CHECKING:
        directory: str
        filter_folder: bool
    else:
        directory: StringProperty(subtype="DIR_PATH", options={"SKIP_SAVE"})
        filter_folder: BoolProperty(default=True, options={"HIDDEN"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_design(context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask for the folder."""
        self.by_hand = True
        manager_of(context).fileselect_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def run(self, context: bpy.types.Context) -> str:
        """Keep the folder, and go on by hand."""
        scene_state(context).export_folder = self.directory
        if self.by_hand:
            bpy.ops.sealwright.export_parts("INVOKE_DEFAULT")  # type: ignore[attr-defined]
        return ""


class SEALWRIGHT_OT_ask_export(Step, bpy.types.Operator):
    """Say what to do with parts that were changed by hand, and whether to export although checks fail"""

    bl_idname = "sealwright.ask_export"
    bl_label = "Export Parts"
    bl_options = {"INTERNAL"}

    if TYPE_CHECKING:
        edited: str
        failing: bool
    else:
        edited: EnumProperty(name="Changed by Hand", items=EDITED[1:])
        failing: BoolProperty(name="Export Although Checks Fail", options={"SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A finished design is needed."""
        return need_design(context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Ask."""
        return manager_of(context).invoke_props_dialog(self, width=420)  # type: ignore[arg-type]

    def draw(self, context: bpy.types.Context) -> None:
        """The reasons, and the choice for each."""
        assert self.layout is not None
        draw_questions(self.layout, self, *to_decide(context))

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Start the export with the answers."""
        _, failed = to_decide(context)
        if failed and not self.failing:
            self.report({"WARNING"}, "Nothing was exported.")
            return {"CANCELLED"}
        chosen = {"edited": self.edited, "failing": self.failing}
        bpy.ops.sealwright.export_parts("INVOKE_DEFAULT", **chosen)  # type: ignore[attr-defined]
        return {"FINISHED"}


def draw_questions(
    layout: bpy.types.UILayout, step: bpy.types.Operator, hands: Sequence[str], failed: Sequence[str]
) -> None:
    """Parts that a hand has changed and checks that fail, each with the choice to make."""
    for name in hands:
        layout.label(text=f"The {name} was changed by hand.", icon="GREASEPENCIL")
    if hands:
        layout.prop(step, "edited", expand=True)
    for name in failed:
        layout.label(text=f"Fails: {name}", icon="CANCEL")
    if failed:
        layout.prop(step, "failing")


def _named(
    making: Job[Made], folder: Path, name: Callable[[str], str], recipe: str, failing: bool
) -> Job[dict[Path, bytes]]:
    """The files of a finished folder under the maker's names; the recipe as the command line reads it.

    Raises
    ------
    Refusal : a check fails that the panel did not show yet, and ``failing`` was not said.
    """
    made = yield from making
    failed = tuple(verdict.topic for verdict in made.verdicts if verdict.verdict == "fail")
    if failed and not failing:
        raise failing_checks(failed)
    files = {}
    for inner, data in sorted(made.files.items()):
        path = PurePosixPath(inner)
        content = recipe.encode() if inner == "recipe.json" else data
        files[folder / path.parent / f"{name(path.stem)}{path.suffix}"] = content
    return files


CLASSES = (
    SEALWRIGHT_OT_export_parts,
    SEALWRIGHT_OT_choose_folder,
    SEALWRIGHT_OT_ask_export,
)

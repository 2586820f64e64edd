# SPDX-License-Identifier: GPL-3.0-or-later
"""Refusals: every operator reports what is wrong, where, and how to mend it, and keeps it for the panel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
from bpy.props import BoolProperty, FloatVectorProperty, StringProperty

from ..core.errors import BackendUnavailable, DesignError, Where
from ..model.fingerprint import inputs_print
from ..model.placing import world_point, world_view
from ..model.wearers import active_wearer

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

    from ..model.wearers import SEALWRIGHT_PG_wearer

COMING: list[str] = []
"""While a live preview is on its way: the sentence that says so, in place of "out of date"."""

LIBRARIES = ("manifold3d", "igl", "scipy", "lib3mf")


class Refusal(DesignError):
    """A step cannot be done as things are in the file."""

    code = "step"


class SEALWRIGHT_PG_problem(bpy.types.PropertyGroup):
    """The last refusal; it lives on the window manager, so that a refused step leaves the scene as it was."""

    if TYPE_CHECKING:
        of: str
        code: str
        what: str
        place: str
        fix: str
        has_point: bool
        point: tuple[float, float, float]
        view: tuple[float, float, float]
    else:
        of: StringProperty(description="Print of the state it speaks of; empty when it speaks of no wearer")
        code: StringProperty()
        what: StringProperty()
        place: StringProperty()
        fix: StringProperty()
        has_point: BoolProperty()
        point: FloatVectorProperty(size=3, subtype="XYZ")
        view: FloatVectorProperty(size=3, subtype="XYZ")


class SEALWRIGHT_PG_window(bpy.types.PropertyGroup):
    """What is not part of the file: the last problem, the running job, the last export."""

    if TYPE_CHECKING:
        problem: SEALWRIGHT_PG_problem
        job_title: str
        job_label: str
        job_fraction: float
        last_report: str
        report_of: str
    else:
        problem: bpy.props.PointerProperty(type=SEALWRIGHT_PG_problem)
        job_title: StringProperty()
        job_label: StringProperty()
        job_fraction: bpy.props.FloatProperty(min=0.0, max=1.0)
        last_report: StringProperty(description="Path of the report that was exported last")
        report_of: StringProperty(description="Print of the state that was exported last")


def manager_of(context: bpy.types.Context) -> bpy.types.WindowManager:
    """The window manager; there always is one."""
    manager = context.window_manager
    assert manager is not None
    return manager


def window_state(context: bpy.types.Context) -> SEALWRIGHT_PG_window:
    """The state of this session that is never saved."""
    state: SEALWRIGHT_PG_window = manager_of(context).sealwright  # type: ignore[attr-defined]
    return state


def redraw(context: bpy.types.Context) -> None:
    """Ask every 3D view to draw again."""
    for window in manager_of(context).windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def keep_problem(context: bpy.types.Context, refusal: DesignError) -> None:
    """Remember a refusal for the panel and the marker in the viewport."""
    problem, wearer = window_state(context).problem, active_wearer(context)
    problem.of = state_of(context, wearer) if wearer else ""
    problem.code, problem.what = refusal.code, refusal.what
    problem.place, problem.fix = str(refusal.where), refusal.fix
    point = world_point(context, refusal.where)
    problem.has_point = point is not None
    problem.point = point or (0.0, 0.0, 0.0)
    problem.view = world_view(context, refusal.where) or (0.0, 0.0, 0.0)


def state_of(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """What a message about a wearer belongs to: the wearer and all that the design depends on."""
    assert context.scene is not None
    return f"{context.scene.name} {wearer.number} {inputs_print(context, wearer)}"


def current_problem(context: bpy.types.Context) -> SEALWRIGHT_PG_problem | None:
    """The last refusal, unless it speaks of another state than the present one."""
    problem, wearer = window_state(context).problem, active_wearer(context)
    if not problem.what or (problem.of and (wearer is None or problem.of != state_of(context, wearer))):
        return None
    return problem


def clear_problem(context: bpy.types.Context) -> None:
    """Forget the last refusal."""
    problem = window_state(context).problem
    for name in ("of", "code", "what", "place", "fix"):
        setattr(problem, name, "")
    problem.has_point = False


def missing_library(error: ImportError) -> BackendUnavailable:
    """A library that should have come with the extension, as a refusal."""
    return BackendUnavailable(
        f"The library {error.name or 'that the core stands on'} could not be loaded: {error}.",
        Where("installation", key=error.name or ""),
        "Install the package for this operating system again, then restart Blender.",
    )


def not_in_list(what: str, index: int) -> Refusal:
    """The refusal of a number that nothing in a list of a kind has."""
    return Refusal(f"There is no {what} {index + 1}.", Where(what, key=str(index)), "Choose one of the list.")


class Step:
    """Mixin of every operator that does a step of the job: poll sentence, refusals, nothing half done.

    A subclass says what it needs in `missing` (O(1)) and works in `run`: gather, core, commit. It may raise
    `DesignError` at any time before it changes Blender data. Any other exception is our fault and shows its
    traceback.
    """

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """What is missing before this step can run, as one sentence, or nothing."""
        return ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Whether the step can run; the reason goes into the tooltip."""
        title = window_state(context).job_title
        reason = f"{title} is running; wait for it or press Esc." if title else cls.missing(context)
        if reason:
            cls.poll_message_set(reason)  # type: ignore[attr-defined]
        return not reason

    by_hand = False  # called from a button or a menu, not from a script

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """A button was pressed."""
        self.by_hand = True
        return self.execute(context)

    def run(self, context: bpy.types.Context) -> str:
        """Do the step; the sentence returned is reported."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Run the step and turn refusals into reports."""
        try:
            said = self.run(context)
        except (DesignError, ImportError) as problem:
            return refuse(self, context, problem)
        clear_problem(context)
        if said:
            self.report({"INFO"}, said)  # type: ignore[attr-defined]
        return {"FINISHED"}


def refuse(
    step: Step, context: bpy.types.Context, problem: DesignError | ImportError
) -> set[OperatorReturnItems]:
    """Report a refusal and keep it; an ImportError that is not about our libraries is raised again.

    A script gets an error; after the press of a button the panel shows the refusal, with the place and the
    button that mends it, so that no popup repeats it.
    """
    if isinstance(problem, ImportError):
        if (problem.name or "").partition(".")[0] not in LIBRARIES:
            raise problem
        problem = missing_library(problem)
    keep_problem(context, problem)
    if step.by_hand:
        step.report({"WARNING"}, problem.what)  # type: ignore[attr-defined]
    else:
        step.report({"ERROR"}, problem.paragraph())  # type: ignore[attr-defined]
    return {"CANCELLED"}

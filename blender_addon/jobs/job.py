# SPDX-License-Identifier: GPL-3.0-or-later
"""Long steps: a generator of the core advanced on a timer, with its name, percentage and Esc to cancel."""

from __future__ import annotations

import time
from collections.abc import Generator
from typing import TYPE_CHECKING, Any, Protocol

import bpy

from ..core.errors import DesignError
from ..view.messages import (
    Step,
    clear_problem,
    manager_of,
    redraw,
    refuse,
    window_state,
)

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

BUDGET_S = 0.03  # work per tick; between ticks the window redraws
# Looking around stays possible while a job runs; anything that could change or undo data does not.
LOOKING = {
    "MIDDLEMOUSE",
    "WHEELUPMOUSE",
    "WHEELDOWNMOUSE",
    "MOUSEMOVE",
    "INBETWEEN_MOUSEMOVE",
    "TIMER_REPORT",
}


class Progress(Protocol):
    """What the core yields between its native calls."""

    @property
    def fraction(self) -> float:
        """Share done, 0 to 1."""

    @property
    def label(self) -> str:
        """What comes next, in the maker's words."""


Steps = Generator[Progress, None, Any]


class Runner:
    """A generator run in slices; knows nothing of windows, so it can be tested without one.

    Attributes
    ----------
    result : what the generator returned, once `advance` has said so.
    """

    def __init__(self, steps: Generator[Progress, None, Any]) -> None:
        self._steps = steps
        self.result: Any = None
        self.label, self.fraction = "", 0.0

    def advance(self, budget_s: float = BUDGET_S) -> bool:
        """Work for about ``budget_s`` seconds, at least one step; true when done. Errors pass through."""
        until = time.perf_counter() + budget_s
        while True:
            try:
                step = next(self._steps)
            except StopIteration as done:
                self.result = done.value
                return True
            self.label, self.fraction = step.label, step.fraction
            if time.perf_counter() >= until:
                return False

    def close(self) -> None:
        """Stop for good; nothing was changed yet."""
        self._steps.close()


class JobStep(Step):
    """Mixin of an operator whose work is a generator; only `commit` changes Blender data.

    Scripts and background runs go through `execute`, which runs to the end at once.
    """

    title = "Working"
    _runner: Runner
    _timer: bpy.types.Timer | None

    def steps(self, context: bpy.types.Context) -> Generator[Progress, None, Any]:
        """Gather the inputs and return the work."""
        raise NotImplementedError

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write the result to Blender, all at once; the sentence returned is reported."""
        raise NotImplementedError

    def run(self, context: bpy.types.Context) -> str:
        """Run to the end without giving the window back."""
        runner = Runner(self.steps(context))
        while not runner.advance(3600.0):
            pass
        return self.commit(context, runner.result)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Start on a timer; without a window run to the end."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        try:
            self._runner = Runner(self.steps(context))
        except (DesignError, ImportError) as problem:
            return refuse(self, context, problem)
        manager = manager_of(context)
        self._timer = manager.event_timer_add(0.01, window=context.window)
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        self._show(context)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Advance on each tick; Esc stops; looking around stays possible."""
        if event.type == "ESC":
            self._leave(context)
            self.report({"WARNING"}, f"{self.title} was cancelled; nothing was changed.")  # type: ignore[attr-defined]
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"} if event.type in LOOKING else {"RUNNING_MODAL"}
        done = False
        try:
            done = self._runner.advance()
            if done:
                said = self.commit(context, self._runner.result)
        except (DesignError, ImportError) as problem:
            self._leave(context)
            return refuse(self, context, problem)
        except BaseException:  # ours: clean up the window, then show the traceback
            self._leave(context)
            raise
        if not done:
            self._show(context)
            return {"RUNNING_MODAL"}
        self._leave(context)
        clear_problem(context)
        self.report({"INFO"}, said)  # type: ignore[attr-defined]
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender closes the window or loads a file while the job runs."""
        self._leave(context)

    def _show(self, context: bpy.types.Context) -> None:
        state, runner = window_state(context), self._runner
        state.job_title, state.job_label, state.job_fraction = self.title, runner.label, runner.fraction
        text = f"{self.title}: {runner.label} {100 * runner.fraction:.0f} %   (Esc cancels)"
        if context.workspace:
            context.workspace.status_text_set(text)
        redraw(context)

    def _leave(self, context: bpy.types.Context) -> None:
        self._runner.close()
        if self._timer is not None:
            manager_of(context).event_timer_remove(self._timer)
            self._timer = None
        state = window_state(context)
        state.job_title = state.job_label = ""
        state.job_fraction = 0.0
        if context.workspace:
            context.workspace.status_text_set(None)
        redraw(context)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Long steps: a generator of the core run beside the window, with its name, percentage and Esc to cancel."""

from __future__ import annotations

import contextlib
import ctypes
import sys
import threading
import time
from collections.abc import Generator
from typing import TYPE_CHECKING, Any, Protocol

import bpy

from ..core.errors import DesignError, Where
from ..model.wearers import active_wearer
from ..view.messages import (
    Refusal,
    Step,
    clear_problem,
    manager_of,
    redraw,
    refuse,
    state_of,
    window_state,
)

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

TICK_S = 0.03  # between two looks at how far the work is
_ONE_AT_A_TIME = threading.Lock()
# Looking around stays possible while a job runs; anything that could change or undo data does not.
LOOKING = {
    "MIDDLEMOUSE",
    "WHEELUPMOUSE",
    "WHEELDOWNMOUSE",
    "MOUSEMOVE",
    "INBETWEEN_MOUSEMOVE",
    "TIMER_REPORT",
}


def warm() -> None:
    """Load the libraries beside the window, so that the first step begins at once."""

    def load() -> None:
        with contextlib.suppress(ImportError):  # the step that needs one says what is missing
            from ..core.jobs import make  # noqa: F401

    if not bpy.app.background:
        _loading[:] = [threading.Thread(target=load, name="sealwright libraries", daemon=True)]
        _loading[0].start()


_loading: list[threading.Thread] = []


def loading() -> bool:
    """Whether the libraries are still being loaded: what imports one of them meanwhile would wait for it."""
    return any(thread.is_alive() for thread in _loading)


class Progress(Protocol):
    """What the core yields between its native calls."""

    @property
    def fraction(self) -> float:
        """Share done, 0 to 1."""

    @property
    def label(self) -> str:
        """What comes next, in the maker's words."""


Steps = Generator[Progress, None, Any]


class Stopped(BaseException):
    """Raised in the thread of a job that nobody waits for any more; no handler of the work catches it."""


class Runner:
    """A generator run on a thread of its own; knows nothing of windows, so it can be tested without one.

    The core knows no Blender: what it needs was gathered before, and what it makes is committed afterwards by
    who asked. One job works at a time: the next one waits until a stopped one has let go, which it does after
    one call of a library, not only at its next step.

    Attributes
    ----------
    result : what the generator returned, once `done` has said so.
    label, fraction : where it is.
    """

    def __init__(self, steps: Generator[Progress, None, Any]) -> None:
        self._steps = steps
        self._stopped = threading.Event()
        self._problem: BaseException | None = None
        self._thread: threading.Thread | None = None
        self._working = False
        self.result: Any = None
        self.label, self.fraction = "", 0.0

    def start(self) -> None:
        """Begin, beside the window."""
        self._thread = threading.Thread(target=self._alone, name="sealwright", daemon=True)
        self._thread.start()

    def done(self) -> bool:
        """Whether it came to its end; an error of the work is raised here, in the thread that asks."""
        if self._thread is not None and self._thread.is_alive():
            return False
        if self._problem is not None:
            raise self._problem
        return True

    def run(self) -> Any:
        """Work to the end at once, in the thread that asks, and give the result."""
        with _ONE_AT_A_TIME:
            self._work()
        return self.result

    def stop(self) -> None:
        """Let go of it, and nobody hears of it any more."""
        self._stopped.set()
        if self._thread is not None and self._thread.is_alive():
            threading.Thread(target=self._pull_out, args=(self._thread,), daemon=True).start()

    def _pull_out(self, thread: threading.Thread) -> None:
        """Raise `Stopped` where the thread works, but not while it loads a library: that works once."""
        while thread.is_alive():
            if self._working and not loads_library(thread):
                place, what = ctypes.c_ulong(thread.ident or 0), ctypes.py_object(Stopped)
                ctypes.pythonapi.PyThreadState_SetAsyncExc(place, what)
                return
            time.sleep(TICK_S)

    def _alone(self) -> None:
        try:
            with _ONE_AT_A_TIME:
                self._working = True
                self._work()
                self._working = False
        except BaseException as problem:  # told to who asks
            self._problem = problem

    def _work(self) -> None:
        while not self._stopped.is_set():
            try:
                step = next(self._steps)
            except StopIteration as end:
                self.result = end.value
                return
            self.label, self.fraction = step.label, step.fraction
        self._steps.close()


def loads_library(thread: threading.Thread) -> bool:
    """Whether a thread is importing something at the moment."""
    frame = sys._current_frames().get(thread.ident or 0)
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


class JobStep(Step):
    """Mixin of an operator whose work is a generator; only `commit` changes Blender data.

    Scripts and background runs go through `execute`, which runs to the end at once.
    """

    title = "Working"
    _runner: Runner | None
    _timer: bpy.types.Timer | None
    _begun: str

    def steps(self, context: bpy.types.Context) -> Generator[Progress, None, Any]:
        """Gather the inputs and return the work."""
        raise NotImplementedError

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write the result to Blender, all at once; the sentence returned is reported."""
        raise NotImplementedError

    def _unchanged(self, context: bpy.types.Context) -> None:
        """Refuse to write a result when something it depends on was changed by a script while it was made."""
        wearer = active_wearer(context)
        if wearer is None or state_of(context, wearer) != self._begun:
            raise Refusal(
                f"{self.title}: what it works on was changed meanwhile; nothing was written.",
                Where("scene"),
                "Start the step again.",
            )

    def run(self, context: bpy.types.Context) -> str:
        """Run to the end without giving the window back."""
        return self.commit(context, Runner(self.steps(context)).run())

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Start beside the window; without one run to the end."""
        self.by_hand = True
        if bpy.app.background or context.window is None:
            return self.execute(context)
        self._runner = None
        if not loading():
            try:
                self._begin(context)
            except (DesignError, ImportError) as problem:
                return refuse(self, context, problem)
        manager = manager_of(context)
        self._timer = manager.event_timer_add(TICK_S, window=context.window)
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        self._show(context)
        return {"RUNNING_MODAL"}

    def _begin(self, context: bpy.types.Context) -> Runner:
        """Gather, and start the work."""
        wearer = active_wearer(context)
        self._begun = state_of(context, wearer) if wearer else ""
        self._runner = Runner(self.steps(context))
        self._runner.start()
        return self._runner

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Look on each tick how far it is; Esc stops; looking around stays possible."""
        if event.type == "ESC":
            self._leave(context)
            self.report({"WARNING"}, f"{self.title} was cancelled; nothing was changed.")  # type: ignore[attr-defined]
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"} if event.type in LOOKING else {"RUNNING_MODAL"}
        if self._runner is None and loading():
            return {"RUNNING_MODAL"}
        done = False
        try:
            runner = self._runner or self._begin(context)
            done = runner.done()
            if done:
                self._unchanged(context)
                said = self.commit(context, runner.result)
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
        label, fraction = (runner.label, runner.fraction) if runner else ("Loading libraries", 0.0)
        if (state.job_title, state.job_label) == (self.title, label):
            return  # a redraw takes time from the work
        state.job_title, state.job_label, state.job_fraction = self.title, label, fraction
        text = f"{self.title}: {label} {100 * fraction:.0f} %   (Esc cancels)"
        if context.workspace:
            context.workspace.status_text_set(text)
        redraw(context)

    def _leave(self, context: bpy.types.Context) -> None:
        if self._runner is not None:
            self._runner.stop()
        if self._timer is not None:
            manager_of(context).event_timer_remove(self._timer)
            self._timer = None
        state = window_state(context)
        state.job_title = state.job_label = ""
        state.job_fraction = 0.0
        if context.workspace:
            context.workspace.status_text_set(None)
        redraw(context)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Live preview: while values change, one coarse body after another is made beside the window and shown.

A body that is on its way is not thrown away for a newer value: it is shown, out of date by its own print, and
the next one begins with the values as they are by then. So a drag shows a row of bodies, and the last one is
that of the last value.
"""

from __future__ import annotations

import time
from typing import Any

import bpy

from ..core.errors import DesignError
from ..model import cache
from ..model.fingerprint import face_part, inputs_print
from ..model.own_objects import OWN
from ..model.quiet import is_quiet
from ..model.wearers import active_wearer, scan_of, scene_state
from ..view import line_marks
from ..view.messages import (
    COMING,
    clear_problem,
    keep_problem,
    missing_library,
    redraw,
    window_state,
)
from ..view.standing import stale
from .job import Runner
from .output import commit_shape
from .stages import shape_steps

DELAY_S, TICK_S = 0.02, 0.02
_running: list[tuple[Runner, str]] = []  # the body on its way, and the print of what it is made from


def value_changed(_group: Any, context: bpy.types.Context) -> None:
    """A recipe value was changed by the user: what was built is out of date."""
    cache.touch()
    wearer = active_wearer(context)
    if is_quiet() or wearer is None:
        return
    if wearer.quality != "NONE" and wearer.recipe.kind not in OWN:  # those are built, not previewed
        _soon(context)


def follow_soon() -> None:
    """After undo or redo: a preview that stands is made anew when it is not of the values as they are.

    It is looked at when the window is at rest: within undo Blender's graph of the scene is half built, and
    evaluating it may crash.
    """
    if not bpy.app.timers.is_registered(_follow):
        bpy.app.timers.register(_follow, first_interval=0.0)


def _follow() -> None:
    context = bpy.context
    wearer = active_wearer(context) if context.scene is not None else None
    if wearer is None or wearer.recipe.kind in OWN:
        return
    if wearer.quality == "PREVIEW" and stale(context, wearer):
        _soon(context)


def _soon(context: bpy.types.Context) -> None:
    waiting = bool(_running) or bpy.app.timers.is_registered(_tick)
    if scene_state(context).live and not bpy.app.background and not waiting:
        bpy.app.timers.register(_tick, first_interval=DELAY_S)


def _tick() -> float | None:
    """The timer's work: begin a body, or look whether it is there; when to look again."""
    context, wearer = bpy.context, active_wearer(bpy.context)
    gone = wearer is None or scan_of(context, wearer) is None or wearer.recipe.kind in OWN
    if window_state(context).job_title or wearer is None or gone:
        stop()
        return None
    if not _running and not stale(context, wearer):
        clear_problem(context)  # it was of other values
        redraw(context)
        return None  # what stands was built meanwhile
    try:
        if not _running:
            _running.append((Runner(shape_steps(context, wearer)), inputs_print(context, wearer)))
            _running[0][0].start()
            COMING[:] = ["The preview follows."]
        runner, begun = _running[0]
        if not runner.done():
            return TICK_S
        _forget()
        now = inputs_print(context, wearer)
        if face_part(begun) == face_part(now):
            prepared, made = runner.result
            commit_shape(context, wearer, prepared, made, begun)
            clear_problem(context)
        redraw(context)
        if begun != now:
            return 0.0  # the hand went on
        line_marks.soon()
    except DesignError as refusal:
        _forget()
        keep_problem(context, refusal)
    except ImportError as problem:
        _forget()
        keep_problem(context, missing_library(problem))
    redraw(context)
    return None


def rebuild() -> None:
    """One preview at once, as the timer makes it beside the window."""
    while (wait := _tick()) is not None:
        time.sleep(wait)


def _forget() -> None:
    _running.clear()
    COMING.clear()


def stop() -> None:
    """Drop a preview that is on its way or still waiting."""
    for runner, _ in _running:
        runner.stop()
    _forget()
    for timer in (_tick, _follow):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)

# SPDX-License-Identifier: GPL-3.0-or-later
"""Live preview: a changed value rebuilds a coarse body shortly after, once the mouse has given way."""

from __future__ import annotations

from typing import Any

import bpy

from ..core.errors import DesignError
from ..core.progress import run_to_end
from ..model.quiet import is_quiet
from ..model.wearers import active_wearer, scan_of, scene_state
from ..view import line_marks
from ..view.messages import (
    clear_problem,
    keep_problem,
    missing_library,
    redraw,
    window_state,
)
from .output import commit_shape
from .stages import shape_steps

DELAY_S = 0.05  # long enough for a drag to deliver its next value first, too short to notice


def value_changed(_group: Any, context: bpy.types.Context) -> None:
    """A recipe value was changed by the user: what was built is out of date."""
    wearer = active_wearer(context)
    if is_quiet() or wearer is None:
        return
    wearer.stale = True
    if wearer.quality != "NONE" and scene_state(context).live and not bpy.app.background:
        if bpy.app.timers.is_registered(_rebuild):
            bpy.app.timers.unregister(_rebuild)
        bpy.app.timers.register(_rebuild, first_interval=DELAY_S)


def _rebuild() -> None:
    """The timer's work: one preview of the active wearer; a refusal goes to the panel, nothing is raised."""
    context, wearer = bpy.context, active_wearer(bpy.context)
    if window_state(context).job_title or wearer is None or scan_of(context, wearer) is None:
        return
    try:
        prepared, made = run_to_end(shape_steps(context, wearer))
        commit_shape(context, wearer, prepared, made)
        line_marks.soon()
        clear_problem(context)
    except DesignError as refusal:
        keep_problem(context, refusal)
    except ImportError as problem:
        keep_problem(context, missing_library(problem))
    redraw(context)


def start() -> None:
    """Nothing to do until a value changes."""


def stop() -> None:
    """Drop a preview that is still waiting."""
    if bpy.app.timers.is_registered(_rebuild):
        bpy.app.timers.unregister(_rebuild)

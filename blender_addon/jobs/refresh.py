# SPDX-License-Identifier: GPL-3.0-or-later
"""What follows changes that no button of ours made: edits, undo, redo, another file, another scene."""

from __future__ import annotations

from typing import Any

import bpy

from ..model import cache
from ..model.wearers import active_wearer, scene_state
from ..view import handles, line_marks
from ..view.messages import clear_problem, redraw
from . import greeting, line_editing, line_mirror, live
from .job import warm


@bpy.app.handlers.persistent  # type: ignore[misc]
def edited(_scene: Any, graph: bpy.types.Depsgraph) -> None:
    """Something was edited: prints are taken anew, and that of a scan's shape when its shape changed."""
    cache.touch()
    for update in graph.updates:
        block = update.id.original if update.is_updated_geometry and update.id is not None else None
        if block is not None:
            cache.shapes.pop(block.session_uid, None)
    line_marks.changed(graph)
    if bpy.context.scene is not None:
        line_mirror.follow(bpy.context, graph)
        line_editing.watch(bpy.context)


@bpy.app.handlers.persistent  # type: ignore[misc]
def turned(*_: Any) -> None:
    """After undo and redo all may be another; what stands is made anew where it was live."""
    cache.touch(whole=True)
    line_marks.soon()
    live.follow_soon()
    redraw(bpy.context)


@bpy.app.handlers.persistent  # type: ignore[misc]
def opened(*_: Any) -> None:
    """Another file: messages and marks of the last one are gone."""
    cache.touch(whole=True)
    clear_problem(bpy.context)
    line_marks.forget()
    handles.forget()
    line_editing.forget()
    if bpy.context.scene is not None and active_wearer(bpy.context) is not None:
        warm()
    greeting.soon()
    line_marks.soon()


@bpy.app.handlers.persistent  # type: ignore[misc]
def saving(*_: Any) -> None:
    """The file is about to be saved: handles of what is shown go into it."""
    context = bpy.context
    if context.scene is not None:
        for wearer in scene_state(context).wearers:
            handles.keep_in_file(context, wearer)


HANDLERS = (
    ("depsgraph_update_post", edited),
    ("undo_post", turned),
    ("redo_post", turned),
    ("load_post", opened),
    ("save_pre", saving),
)


def start() -> None:
    """Follow changes."""
    for name, handler in HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)
    watch_scenes()


def watch_scenes() -> None:
    """Look at the line of the scene that a window switches to; its prints are its own anyway."""
    bpy.msgbus.subscribe_rna(
        key=(bpy.types.Window, "scene"),  # type: ignore[arg-type]  # the stubs ask for an instance, 4.5's manual for a type
        owner=HANDLERS,
        args=(),
        notify=line_marks.soon,
        options={"PERSISTENT"},
    )


def stop() -> None:
    """Stop following."""
    bpy.msgbus.clear_by_owner(HANDLERS)
    for name, handler in HANDLERS:
        getattr(bpy.app.handlers, name).remove(handler)

# SPDX-License-Identifier: GPL-3.0-or-later
"""What is drawn over the 3D view: the place of a problem."""

from __future__ import annotations

from typing import Any

import bpy

from .messages import window_state

_handles: list[tuple[Any, str]] = []
RED = (0.90, 0.35, 0.0, 1.0)  # vermilion of the Okabe-Ito set, told apart by colour-blind eyes


def draw_points() -> None:
    """Markers in the scene's space."""
    import gpu
    from gpu_extras.batch import batch_for_shader

    problem = window_state(bpy.context).problem
    if not problem.has_point:
        return
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    batch = batch_for_shader(shader, "POINTS", {"pos": [tuple(problem.point)]})
    gpu.state.point_size_set(14.0)
    shader.bind()
    shader.uniform_float("color", RED)
    batch.draw(shader)
    gpu.state.point_size_set(1.0)


def start() -> None:
    """Add the drawing to every 3D view."""
    space = bpy.types.SpaceView3D
    _handles.append((space.draw_handler_add(draw_points, (), "WINDOW", "POST_VIEW"), "WINDOW"))


def stop() -> None:
    """Take the drawing out again."""
    while _handles:
        handle, region = _handles.pop()
        bpy.types.SpaceView3D.draw_handler_remove(handle, region)

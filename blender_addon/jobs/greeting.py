# SPDX-License-Identifier: GPL-3.0-or-later
"""A scene that was made to be given away opens looking at the face, with our tab open."""

from __future__ import annotations

import bpy

from ..model.placing import face_matrix
from ..model.wearers import active_wearer, scan_of, scene_state
from ..view.framing import frame_face, frame_object, show_tab

CATEGORY = "Sealwright"
TICK_S, TRIES = 0.2, 25
_left: list[int] = []


def soon() -> None:
    """Greet once the window is there, when the scene asks for it."""
    context = bpy.context
    if bpy.app.background or context.scene is None or not scene_state(context).greet:
        return
    _left[:] = [TRIES]
    if not bpy.app.timers.is_registered(_tick):
        bpy.app.timers.register(_tick, first_interval=TICK_S)


def look(context: bpy.types.Context) -> None:
    """Turn the views to the face of the chosen wearer, or to the scan where it was not found yet."""
    wearer = active_wearer(context)
    scan = scan_of(context, wearer) if wearer else None
    if wearer is not None and wearer.prepared:
        frame_face(context, face_matrix(wearer))
    elif scan is not None:
        frame_object(context, scan)


def _tick() -> float | None:
    context = bpy.context
    if context.scene is None or not _left:
        return None
    if _left[0] == TRIES:
        look(context)
    _left[0] -= 1
    if show_tab(context, CATEGORY) or _left[0] <= 0:
        scene_state(context).greet = False
        return None
    return TICK_S


def stop() -> None:
    """Do not greet any more."""
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)

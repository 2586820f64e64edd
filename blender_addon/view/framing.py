# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the 3D views look, with nothing cut off, and what their colours show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from mathutils import Matrix, Quaternion, Vector

from .messages import manager_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray


def solid_views(context: bpy.types.Context) -> Iterator[tuple[bpy.types.Area, bpy.types.SpaceView3D]]:
    """Every 3D view of every window."""
    for window in manager_of(context).windows:
        for area in window.screen.areas:
            space = area.spaces.active
            if isinstance(space, bpy.types.SpaceView3D) and space.region_3d is not None:
                yield area, space


def looking_from(way: Sequence[float]) -> Quaternion:
    """The rotation of a view that looks at its middle from a direction, upright."""
    return Vector(way).to_track_quat("Z", "Y")


def look_at(
    context: bpy.types.Context,
    point: Sequence[float],
    distance: float,
    turn: Quaternion | None = None,
) -> int:
    """Turn every 3D view to a place; how many there were.

    Parameters
    ----------
    distance : of the eye, in Blender units; the view's depth is made to hold ten times as much.
    turn : the view's rotation; None keeps it.
    """
    views = 0
    for area, space in solid_views(context):
        region = space.region_3d
        if region is None:
            continue
        region.view_location, region.view_distance = Vector(point), distance
        if turn is not None:
            region.view_rotation = turn
            region.view_perspective = "PERSP"
        space.clip_end = max(space.clip_end, 10.0 * distance)
        area.tag_redraw()
        views += 1
    return views


def frame_object(context: bpy.types.Context, obj: bpy.types.Object) -> None:
    """Show a whole object, from where the view looks now."""
    corners = np.array([(obj.matrix_world @ Vector(corner))[:] for corner in obj.bound_box])
    look_at(context, corners.mean(axis=0).tolist(), 2.2 * float(np.linalg.norm(np.ptp(corners, axis=0))))


def frame_face(context: bpy.types.Context, face_to_world: NDArray[np.float64]) -> None:
    """Show a face from the front and a little from the wearer's left.

    Parameters
    ----------
    face_to_world : 4x4, face frame in mm (X to the wearer's left, Y backwards, Z up) to the world.
    """
    x, y, z = (face_to_world[:3, k] for k in range(3))
    mm = float(np.linalg.norm(z))  # one millimetre in the world
    middle = face_to_world[:3, 3] + 15.0 * z
    back = 0.35 * x - y + 0.1 * z
    side = np.cross(z, back)
    axes = np.column_stack([way / np.linalg.norm(way) for way in (side, np.cross(back, side), back)])
    look_at(context, middle.tolist(), 420.0 * mm, Matrix(axes.tolist()).to_quaternion())


def show_tab(context: bpy.types.Context, category: str) -> bool:
    """Open the sidebar of every 3D view at a tab; whether it was there: it is, after a first drawing."""
    there = True
    for area, space in solid_views(context):
        space.show_region_ui = True
        for region in area.regions:
            if region.type == "UI":
                try:
                    region.active_panel_category = category  # type: ignore[assignment]
                except (TypeError, AttributeError):  # no tabs yet, or not ours
                    there = False
        area.tag_redraw()
    return there


_plain: dict[
    int, tuple[str, float]
] = {}  # address of a space -> colour type and nearest distance before a map


def colour_views(context: bpy.types.Context, mm: float) -> None:
    """Let every solid 3D view take colours from the mesh, and tell surfaces 0.1 mm apart from each other.

    Blender's nearest distance of a view is 0.01 units; in a scene in millimetres that leaves a depth of 1 mm
    at arm's length, and the skin shines through the map that lies on it.

    Parameters
    ----------
    mm : millimetres in one unit.
    """
    nearest = 1.0 / mm
    for area, space in solid_views(context):
        _plain.setdefault(space.as_pointer(), (space.shading.color_type, space.clip_start))
        space.shading.color_type = "VERTEX"
        space.clip_start = max(space.clip_start, nearest)
        area.tag_redraw()


def plain_views(context: bpy.types.Context) -> None:
    """Put back what `colour_views` changed."""
    for area, space in solid_views(context):
        before = _plain.pop(space.as_pointer(), None)
        if before is not None:
            space.shading.color_type, space.clip_start = before  # type: ignore[assignment]
            area.tag_redraw()

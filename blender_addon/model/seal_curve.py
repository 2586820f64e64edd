# SPDX-License-Identifier: GPL-3.0-or-later
"""The seal line as an editable closed curve on the scan, and its control points back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np

from .convert import matrix_array
from .placing import face_matrix, to_world
from .skin_curve import draw_on_skin, new_skin_curve
from .wearers import living, wearer_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

LINE_TAG = "seal line"
PROPOSAL = "sealwright_proposal"  # control points in the world, as they were proposed
MOVED_MM = 0.05


def seal_object(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The wearer's seal line, if it is in the scene."""
    assert context.scene is not None
    return living(wearer.seal_line, context.scene)


def draw_seal_line(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, control: Floats, proposal: bool
) -> bpy.types.Object:
    """Make the curve, or give it new control points.

    Parameters
    ----------
    control : (k, 3) mm, face frame, in order.
    proposal : remember these as the proposal, so that an untouched line follows the recipe.
    """
    obj = seal_object(context, wearer)
    if obj is None:
        obj = wearer.seal_line = new_skin_curve(context, wearer, "seal line", LINE_TAG)
    world = to_world(face_matrix(wearer), control)
    draw_on_skin(context, wearer, obj, [world])
    if proposal:
        obj.data[PROPOSAL] = [float(c) for c in world.ravel()]  # type: ignore[index]
    return obj


def control_points(obj: bpy.types.Object, wearer: SEALWRIGHT_PG_wearer) -> Floats:
    """Control points (k, 3) of the curve's first spline, mm, face frame; edits in edit mode count."""
    return to_world(np.linalg.inv(face_matrix(wearer)), world_points(obj))


def world_points(obj: bpy.types.Object) -> Floats:
    """Control points (k, 3) of the curve's first spline in the world."""
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    return to_world(matrix_array(obj.matrix_world), stored_points(obj))


def stored_points(obj: bpy.types.Object) -> Floats:
    """Control points (k, 3) of the curve's first spline as they are stored, its own coordinates."""
    curve = obj.data
    assert isinstance(curve, bpy.types.Curve)
    spline = curve.splines[0] if curve.splines else None
    if spline is None:
        return np.empty((0, 3))
    source = spline.bezier_points if spline.type == "BEZIER" else spline.points
    return np.array([point.co[:3] for point in source], dtype=np.float64).reshape(-1, 3)


def own_points(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Floats | None:
    """Control points (k, 3) in the world, when the maker changed the line; None for the proposal."""
    obj = seal_object(context, wearer)
    if obj is None or obj.data is None:
        return None
    now = world_points(obj)
    proposal = np.array(obj.data.get(PROPOSAL, ()), dtype=np.float64).reshape(-1, 3)
    limit = MOVED_MM / wearer_mm(context, wearer)
    return None if now.shape == proposal.shape and np.abs(now - proposal).max() < limit else now


def changed_points(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Floats | None:
    """Control points (k, 3), mm, in the face frame that was found last, as `own_points`."""
    points = own_points(context, wearer)
    return None if points is None else to_world(np.linalg.inv(face_matrix(wearer)), points)


def mirrored(control: Floats, keep_left: bool) -> Floats:
    """One half of a closed line copied to the other side of X = 0.

    Parameters
    ----------
    control : (k, 3) in order round the mouth; the two points nearest the midplane are kept on it.
    keep_left : keep the wearer's left (X > 0), else the right.
    """
    side = control[:, 0] if keep_left else -control[:, 0]
    reach = 0.1 * float(np.ptp(control[:, 0]))
    onto = np.array([0.0, 1.0, 1.0])
    middle = control[np.abs(side) <= reach] * onto
    middle = middle[np.argsort(-middle[:, 2])]
    top, bottom = middle[:1], middle[1:][-1:]
    start = int(np.argmax(np.where(np.abs(side) <= reach, control[:, 2], -np.inf))) if len(middle) else 0
    order = np.roll(np.arange(len(control)), -start)
    half = control[order][side[order] > reach]
    if half[0, 2] < half[-1, 2]:  # from the nose down to the chin
        half = half[::-1]
    return np.vstack([top, half, bottom, half[::-1] * np.array([-1.0, 1.0, 1.0])])


def relaxed(control: Floats, share: float = 0.5) -> Floats:
    """Each control point moved part of the way to the middle of its neighbours."""
    middle = 0.5 * (np.roll(control, 1, axis=0) + np.roll(control, -1, axis=0))
    return control + share * (middle - control)

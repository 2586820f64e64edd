# SPDX-License-Identifier: GPL-3.0-or-later
"""While a point of the seal line is dragged, its fellow on the other side follows, where asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import bpy
import numpy as np

from ..model.convert import matrix_array
from ..model.placing import face_matrix, to_world
from ..model.seal_curve import seal_object, stored_points
from ..model.wearers import active_wearer, scan_of, scene_state

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

FELLOW_MM = 15.0  # farther from its mirror image no point is taken for the fellow
STILL_MM = 1e-3
ACROSS = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Kept:
    """Points (k, 3) of the line at the last look, mm in the face frame, and the fellow (k,) of each or -1."""

    points: Floats
    fellows: NDArray[np.int64]


_kept: list[Kept] = []


def fellows_of(points: Floats) -> NDArray[np.int64]:
    """For each point (k, 3) the one nearest to its mirror image; -1 where none is near, or it is itself."""
    away = np.linalg.norm(points[:, None] * ACROSS - points[None], axis=2)
    nearest = away.argmin(axis=1)
    mutual = nearest[nearest] == np.arange(len(points))
    near = away[np.arange(len(points)), nearest] < FELLOW_MM
    return np.where(mutual & near & (nearest != np.arange(len(points))), nearest, -1)


def follow(context: bpy.types.Context, graph: bpy.types.Depsgraph) -> None:
    """After a change in the scene: move the fellows of points that were moved."""
    wearer = active_wearer(context)
    obj = seal_object(context, wearer) if wearer else None
    if wearer is None or obj is None or obj.mode != "EDIT" or not scene_state(context).mirror_line:
        _kept.clear()
        return
    if not any(u.id is not None and u.id.original in (obj, obj.data) for u in graph.updates):
        return
    back = np.linalg.inv(face_matrix(wearer)) @ matrix_array(obj.matrix_world)
    now = to_world(back, stored_points(obj))
    if not _kept or _kept[0].points.shape != now.shape:
        _kept[:] = [Kept(now, fellows_of(now))]
        return
    fellows = _kept[0].fellows
    moved = np.linalg.norm(now - _kept[0].points, axis=1) > STILL_MM
    for index in np.flatnonzero(moved & (fellows >= 0)):
        fellow = int(fellows[index])
        if not moved[fellow]:
            now[fellow] = on_scan(context, wearer, now[index] * ACROSS)
            _put(obj, fellow, to_world(np.linalg.inv(back), now[fellow]))
    _kept[:] = [Kept(now, fellows)]


def begin(context: bpy.types.Context) -> None:
    """Remember the points as they are before the first drag."""
    _kept.clear()
    wearer = active_wearer(context)
    obj = seal_object(context, wearer) if wearer else None
    if wearer is not None and obj is not None:
        back = np.linalg.inv(face_matrix(wearer)) @ matrix_array(obj.matrix_world)
        points = to_world(back, stored_points(obj))
        _kept[:] = [Kept(points, fellows_of(points))]


def _put(obj: bpy.types.Object, index: int, place: Floats) -> None:
    curve = obj.data
    assert isinstance(curve, bpy.types.Curve)
    curve.splines[0].bezier_points[index].co = tuple(place)  # type: ignore[assignment]


def on_scan(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, place: Floats) -> Floats:
    """The place on the scan nearest to one in the face frame, mm."""
    scan = scan_of(context, wearer)
    if scan is None:
        return place
    seen = scan.evaluated_get(context.evaluated_depsgraph_get())
    there = np.linalg.inv(matrix_array(seen.matrix_world)) @ face_matrix(wearer)
    found, near, _, _ = seen.closest_point_on_mesh(tuple(to_world(there, place)))  # type: ignore[arg-type]
    return to_world(np.linalg.inv(there), np.array(near)) if found else place

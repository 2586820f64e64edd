# SPDX-License-Identifier: GPL-3.0-or-later
"""Bad spots of the seal line, found anew after each change while it is dragged.

Only what the session already knows is used: nothing is prepared for the sake of a mark.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..core.errors import DesignError
from ..core.limits import limit, line_distance_mm
from ..model import cache
from ..model.fingerprint import drawn_from, face_current
from ..model.placing import face_matrix, to_world
from ..model.seal_curve import control_points, seal_object, world_points
from ..model.trust_rows import GOOD, judge, up_to_date
from ..model.wearers import active_wearer, scene_state
from .messages import redraw

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]
    Colour = tuple[float, float, float, float]

DELAY_S = 0.1
STATIONS = 96
COLOURS = {
    "sharp": (0.902, 0.624, 0.0, 1.0),
    "near": (0.835, 0.369, 0.0, 1.0),
    "off": (0.8, 0.475, 0.655, 1.0),
}


@dataclass(frozen=True)
class Marks:
    """Bad spots (n, 3) in the world by kind, the drawn line (m, 3), and the sector (m,) of its points.

    ``of`` is the print of the line and of all that the marks depend on; marks of another state are not drawn.
    """

    of: str
    line: Floats
    spots: dict[str, Floats]
    sectors: NDArray[np.int64] | None = None


_marks: list[Marks] = []  # of the last look, or nothing


def _seen(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer | None) -> Marks | None:
    """The marks, when they are of this wearer's line as it is now."""
    obj = seal_object(context, wearer) if wearer else None
    if wearer is None or obj is None or not _marks:
        return None
    return _marks[0] if _marks[0].of == drawn_from(context, wearer, world_points(obj)) else None


def drawn_line(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Floats | None:
    """The line as the core would lay it, in the world, or None before the first look."""
    obj = seal_object(context, wearer)
    found = _seen(context, wearer)
    return found.line if found is not None and obj is not None and not obj.hide_get() else None


def marks_of(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer | None) -> list[tuple[Colour, Floats]]:
    """Colour and places of the bad spots."""
    found = _seen(context, wearer)
    return [(COLOURS[kind], points) for kind, points in found.spots.items()] if found else []


def doubted_runs(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> list[tuple[str, Floats]]:
    """Verdict and points (k, 3) in the world of each sector of the drawn line that is not good."""
    found = _seen(context, wearer)
    if found is None or found.sectors is None or not up_to_date(context, wearer):
        return []
    runs = []
    for index, row in enumerate(wearer.sectors):
        here = np.flatnonzero(found.sectors == index)
        if row.verdict != GOOD and len(here):
            gap = int(np.argmax(np.diff(here, append=here[0] + len(found.line))))  # the run may go through 0
            runs.append((row.verdict, found.line[np.roll(here, -gap - 1)]))
    return runs


def bad_places(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> int:
    """How many bad spots the last look found on the line as it is."""
    found = _seen(context, wearer)
    return sum(len(points) for points in found.spots.values()) if found else 0


def look(context: bpy.types.Context) -> dict[str, int]:
    """Look at the active wearer's line; how many stations are bad, by kind."""
    wearer = active_wearer(context)
    obj = seal_object(context, wearer) if wearer else None
    _marks.clear()
    if wearer is None or obj is None or not face_current(context, wearer):
        return {}
    prepared = cache.remembered("prepared", wearer.face_from)
    if prepared is None:
        return {}
    from ..core.facepiece.seal_line import line_through
    from ..core.facepiece.sectors import sectors_of

    matrix, of = face_matrix(wearer), drawn_from(context, wearer, world_points(obj))
    try:
        control = prepared.face.drop_on_skin(control_points(obj, wearer))
        line = line_through(prepared.face, control, STATIONS, wearer.recipe.seal_line.smoothing_mm)
    except DesignError:  # the line crosses itself: the build will say so; while dragging only the mark counts
        control = control_points(obj, wearer)
        _marks[:] = [Marks(of, to_world(matrix, control), {"sharp": to_world(matrix, control)})]
        return {"crossing": len(control)}
    bad = bad_stations(line.points, line.pq, prepared)
    spots = {kind: to_world(matrix, line.points[where]) for kind, where in bad.items() if where.any()}
    sectors = sectors_of(line.points, prepared.landmarks)
    _marks[:] = [Marks(of, to_world(matrix, line.points), spots, sectors)]
    judge(context, wearer, prepared)
    return {kind: int(where.sum()) for kind, where in bad.items()}


def bad_stations(points: Floats, pq: Floats, prepared: Any) -> dict[str, NDArray[np.bool_]]:
    """Which stations (n,) are too sharp, too near a feature (a little before it is refused), or off the scan.

    Parameters
    ----------
    points, pq : (n, 3) mm and (n, 2) chart positions of the line.
    prepared : the core's prepared face.
    """
    before, after = np.roll(points, 2, axis=0) - points, np.roll(points, -2, axis=0) - points
    span = np.linalg.norm(before - after, axis=1)
    # circle through three points: radius = abc / (4 area)
    area = 0.5 * np.linalg.norm(np.cross(before, after), axis=1)
    radius = (
        np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1) * span / np.maximum(4 * area, 1e-9)
    )
    near = np.zeros(len(points), dtype=bool)
    for name, place in prepared.landmarks.items():
        keep = line_distance_mm(name)
        if keep is not None:
            near |= np.linalg.norm(points - place, axis=1) < keep + limit("line_marked_sooner").value
    return {
        "sharp": radius < limit("line_bend_radius").value,
        "near": near,
        "off": ~prepared.face.is_measured(pq),
    }


def _timer() -> None:
    look(bpy.context)
    redraw(bpy.context)


def changed(graph: bpy.types.Depsgraph) -> None:
    """The line was moved: look again once the hand gives way."""
    context = bpy.context
    if context.scene is None or not len(scene_state(context).wearers):
        return
    wearer = active_wearer(context)
    line = wearer.seal_line if wearer else None
    if line is None:
        return
    updates: Any = graph.updates
    if any(update.id.original in (line, line.data) for update in updates):
        soon()


def soon() -> None:
    """Look at the line shortly."""
    if bpy.app.timers.is_registered(_timer):
        bpy.app.timers.unregister(_timer)
    bpy.app.timers.register(_timer, first_interval=DELAY_S)


def forget() -> None:
    """The marks are of another file."""
    _marks.clear()


def stop() -> None:
    """Drop a look that is still waiting, and the marks."""
    if bpy.app.timers.is_registered(_timer):
        bpy.app.timers.unregister(_timer)
    _marks.clear()

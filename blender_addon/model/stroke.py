# SPDX-License-Identifier: GPL-3.0-or-later
"""A stroke on the skin becomes a closed line, or a new course for a part of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.errors import BadOutline, DesignError, SealLineCrossing, Where

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STROKE: list[Floats] = []
"""Places (3,) in the world that the stroke has passed so far; the overlay draws them."""

SPACING_MM = 12.0  # between control points, as near as those of a proposed line are at the nose
STEP_MM = 1.0  # at which a stroke is looked at
LEAST_POINTS = 16  # of an outline or a hole, which may be small
SEAL_LINE = "seal line"
TREMBLE_MM = 4.0  # a hand's tremble is shorter than this and is smoothed out
CLOSING = 0.12  # of a stroke's length: ends nearer than this belong together
REACH_MM = 15.0  # from the line: a stroke that begins and ends nearer gives a part of it a new course


def drawn(stroke: Floats, line: Floats | None, role: str = SEAL_LINE) -> Floats:
    """Control points (k, 3) of the line after a stroke, mm.

    Parameters
    ----------
    stroke : (n, 3) places in the order they were passed, mm.
    line : (k, 3) control points of the closed line there is, or None.
    role : what the line is, for messages.

    Raises
    ------
    SealLineCrossing, BadOutline : the stroke is too short, or neither closes nor begins and ends at the line.
    """
    way = evened(stroke, STEP_MM, closed=False)
    if len(way) < 2.0 * SPACING_MM / STEP_MM:
        raise _refused(
            role,
            f"The stroke is {STEP_MM * len(way):.0f} mm long; {2.0 * SPACING_MM:.0f} mm are needed.",
            "Hold the button down and draw along the skin.",
        )
    gap = float(np.linalg.norm(way[0] - way[-1]))
    if gap <= CLOSING * STEP_MM * len(way):
        spacing = SPACING_MM if role == SEAL_LINE else min(SPACING_MM, STEP_MM * len(way) / LEAST_POINTS)
        return evened(smoothed(way), spacing, closed=True)
    if line is None or gap_to(way[0], line) > REACH_MM or gap_to(way[-1], line) > REACH_MM:
        raise _refused(
            role,
            f"The ends of the stroke lie {gap:.0f} mm apart, and not both at the line.",
            f"Draw once round and end where you began; or begin and end at the line ({REACH_MM:.0f} mm).",
        )
    return redrawn(smoothed(way), line)


def _refused(role: str, what: str, fix: str) -> DesignError:
    """A stroke that is no line."""
    kind = SealLineCrossing if role == SEAL_LINE else BadOutline
    return kind(what, Where(role), fix)


def redrawn(way: Floats, line: Floats) -> Floats:
    """The line with the part between the ends of a stroke replaced by it; of both parts the nearer one.

    Parameters
    ----------
    way : (n, 3) evenly spaced, mm.
    line : (k, 3) control points, closed.
    """
    dense = evened(line, STEP_MM, closed=True)
    first, last = (int(np.argmin(np.linalg.norm(dense - end, axis=1))) for end in (way[0], way[-1]))
    onward = np.arange(first, first + (last - first) % len(dense) + 1) % len(dense)
    backward = np.arange(last, last + (first - last) % len(dense) + 1) % len(dense)
    kept = backward  # from the end of the stroke to its beginning
    if apart(dense[backward], way) < apart(dense[onward], way):
        kept = onward[::-1]
    margin = int(0.5 * SPACING_MM / STEP_MM)  # control points nearer to the new ends would make a kink
    return np.vstack([evened(way, SPACING_MM, closed=False), ordered(line, dense[kept][margin:-margin])])


def ordered(line: Floats, along: Floats) -> Floats:
    """Those control points that lie on a part of the line, in its order."""
    if not len(along):
        return np.empty((0, 3))
    distance = np.linalg.norm(line[:, None] - along[None], axis=2)
    where = distance.argmin(axis=1)
    on_it = np.flatnonzero(distance.min(axis=1) < STEP_MM)
    return np.asarray(line[on_it[np.argsort(where[on_it])]])


def apart(part: Floats, way: Floats) -> float:
    """Mean distance of the points of a part from a stroke."""
    return float(np.linalg.norm(part[:, None] - way[None], axis=2).min(axis=1).mean())


def gap_to(place: Floats, line: Floats) -> float:
    """Distance of a place from a closed line of control points."""
    return float(np.linalg.norm(evened(line, STEP_MM, closed=True) - place, axis=1).min())


def smoothed(way: Floats) -> Floats:
    """A stroke without the tremble of the hand; its ends stay."""
    reach = np.arange(-int(2 * TREMBLE_MM / STEP_MM), int(2 * TREMBLE_MM / STEP_MM) + 1) * STEP_MM
    weight = np.exp(-0.5 * (reach / (0.5 * TREMBLE_MM)) ** 2)
    weight /= weight.sum()
    half = len(reach) // 2
    # mirrored through the ends, so that they stay where the hand put them
    long = np.vstack([2 * way[0] - way[half:0:-1], way, 2 * way[-1] - way[-2 : -half - 2 : -1]])
    return np.stack([np.convolve(long[:, axis], weight, "valid") for axis in range(3)], axis=1)


def evened(points: Floats, spacing: float, closed: bool) -> Floats:
    """A polyline at about even distances: closed without its first point again, open with both its ends."""
    path = np.vstack([points, points[:1]]) if closed else points
    step = np.linalg.norm(np.diff(path, axis=0), axis=1)
    path = path[np.concatenate([[True], step > 1e-9])]
    along = np.concatenate([[0.0], np.cumsum(step[step > 1e-9])])
    count = max(int(round(along[-1] / spacing)), 1)
    places = np.linspace(0.0, along[-1], count + 1)[: count if closed else count + 1]
    return np.stack([np.interp(places, along, path[:, axis]) for axis in range(3)], axis=1)

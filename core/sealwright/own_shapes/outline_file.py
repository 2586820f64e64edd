"""Outlines from a file: a list of points, or an object with an outline and holes."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import BadOutline, Where
from ..files import contents
from ..mesh import Floats

MOST_POINTS = 5000
"""Of one line; a line of a metre has a point every 0.2 mm then."""

MOST_HOLES = 40
MOST_MM = 1e9

_FIX = 'Give [[x, y, z], ...] in scan coordinates, or {"outline": [...], "holes": [[...], ...]}.'


@dataclass(frozen=True, eq=False)
class DrawnLines:
    """Points (k, 3) of an outline and of its holes, in the coordinates and the unit of the scan."""

    outline: Floats
    holes: tuple[Floats, ...] = ()


def read_outline(path: str | Path) -> DrawnLines:
    """The lines in a JSON file; whether they can be a shell's is not looked at yet.

    Raises
    ------
    BadOutline : absent, no JSON, or no lists of points.
    """
    key = Path(path).name
    try:
        data = json.loads(contents(path, "outline file", refusal=BadOutline).decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise BadOutline(
            f"The outline file cannot be read: {error}.", Where("outline", key=key), _FIX
        ) from error
    if isinstance(data, list):
        return DrawnLines(_points(data, "outline", key))
    if not isinstance(data, dict) or not set(data) <= {"outline", "holes"} or "outline" not in data:
        raise BadOutline("The outline file has no outline.", Where("outline", key=key), _FIX)
    holes = data.get("holes", [])
    if not isinstance(holes, list) or len(holes) > MOST_HOLES:
        raise BadOutline(f"Holes are a list of at most {MOST_HOLES}.", Where("hole", key=key), _FIX)
    lines = [_points(hole, f"hole {number}", key) for number, hole in enumerate(holes, start=1)]
    return DrawnLines(_points(data["outline"], "outline", key), tuple(lines))


def _points(data: object, role: str, key: str) -> Floats:
    """Points (k, 3) from plain data."""
    if not isinstance(data, list) or not data or len(data) > MOST_POINTS:
        raise BadOutline(f"The {role} is no list of 1 to {MOST_POINTS} points.", Where(role, key=key), _FIX)
    for number, item in enumerate(data):
        good = isinstance(item, list) and len(item) == 3 and all(_finite(c) for c in item)
        if not good:
            raise BadOutline(
                f"Point {number} of the {role} is not three finite numbers.",
                Where(role, key=key, indices=(number,)),
                _FIX,
            )
    return np.array(data, dtype=np.float64)


def _finite(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < MOST_MM

"""The outer form of a chamber in a file: a cage with its order in JSON, or a surface in a mesh file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ..errors import UnreadableFile, Where
from ..facepiece.chamber_cage import Cage
from ..files import contents
from ..mesh import Floats, TriMesh
from .model_file import read_model

FORMAT = "sealwright-cage-1"
LEAST_STATIONS, LEAST_ROWS, MOST = 8, 4, 200
MOST_MM = 1e4

_FIX = "Write it with sealwright cage, and change the coordinates only."


def cage_json(cage: Cage) -> str:
    """A cage as JSON text: points and directions by station and row, face frame, mm, to a thousandth."""
    data = {"format": FORMAT, "frame": "design"}
    data |= {"points_mm": np.round(cage.points, 3).tolist(), "out": np.round(cage.out, 4).tolist()}
    return json.dumps(data, indent=1) + "\n"


def read_form(path: str | Path) -> Cage | TriMesh:
    """The outer form in a file: a cage from JSON, else an open surface in the face frame, mm.

    Raises
    ------
    UnreadableFile : absent, no JSON, another format, or no grid of points.
    DesignError : as for `read_model`.
    """
    if Path(path).suffix.lower() != ".json":
        return read_model(path, "chamber cage")
    where = Where("chamber cage", key=Path(path).name)
    try:
        data = json.loads(contents(path, "cage file").decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise UnreadableFile(f"The cage file cannot be read: {error}.", where, _FIX) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise UnreadableFile(f"The cage file is not of the format {FORMAT}.", where, _FIX)
    points, out = _grid(data.get("points_mm")), _grid(data.get("out"))
    if points is None or out is None or out.shape != points.shape:
        raise UnreadableFile(
            f"The cage file has no grid of points: {LEAST_STATIONS} stations or more of {LEAST_ROWS} rows or "
            "more.",
            where,
            _FIX,
        )
    return Cage(points, out)


def _grid(data: object) -> Floats | None:
    """Points (s, r, 3) from plain data; None where it is no such grid of finite numbers."""
    if not isinstance(data, list) or not all(isinstance(row, list) for row in data):
        return None
    try:
        points = np.array(data, dtype=np.float64)
    except (ValueError, TypeError, OverflowError):
        return None
    shaped = points.ndim == 3 and points.shape[-1] == 3 and max(points.shape) <= MOST
    if not shaped or points.shape[0] < LEAST_STATIONS or points.shape[1] < LEAST_ROWS:
        return None
    return points if bool((np.abs(points) < MOST_MM).all()) else None

"""Landmarks from a file that the maker gives."""

from __future__ import annotations

import json
from pathlib import Path

from ...errors import LandmarkMissing, Where
from ...files import contents
from ...mesh import TriMesh
from .landmark_set import Landmark, checked_point, given_landmarks


def landmarks_from_file(path: str | Path, mesh_mm: TriMesh, mm_per_unit: float = 1.0) -> dict[str, Landmark]:
    """Read landmarks: JSON, name -> [x, y, z] in scan coordinates, in the unit of the scan file.

    Parameters
    ----------
    path : the file.
    mesh_mm : the scan in mm, in its own coordinates.
    mm_per_unit : millimetres per unit of the scan file.

    Returns
    -------
    name -> landmark, put on the skin.

    Raises
    ------
    LandmarkMissing : unreadable file, unknown name, a point that is no three numbers or is off the skin.
    """
    data = read_landmark_file(path)
    points = {name: checked_point(value, name) * mm_per_unit for name, value in data.items()}
    return given_landmarks(points, mesh_mm)


def read_landmark_file(path: str | Path) -> dict[str, list[float]]:
    """The contents of a landmark file: name -> three finite numbers; names and places are not checked yet.

    Raises
    ------
    LandmarkMissing : absent, no JSON, no names with values, or a value that is no point.
    """
    path = Path(path)
    where = Where("landmarks", key=path.name)
    fix = 'Give JSON such as {"sellion": [0, 48, 95], "menton": [0, -64, 90]} in scan coordinates.'
    try:
        data = json.loads(contents(path, "landmark file", refusal=LandmarkMissing).decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise LandmarkMissing(f"The landmark file cannot be read: {error}.", where, fix) from error
    if not isinstance(data, dict):
        raise LandmarkMissing("The landmark file is no list of names and points.", where, fix)
    return {name: [float(c) for c in checked_point(value, name)] for name, value in data.items()}

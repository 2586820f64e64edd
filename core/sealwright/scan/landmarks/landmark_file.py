"""Landmarks from a file that the maker gives."""

from __future__ import annotations

import json
from pathlib import Path

from ...errors import LandmarkMissing, Where
from ...files import contents
from .landmark_set import checked_point


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

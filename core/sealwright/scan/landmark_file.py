"""Landmarks from a file that the maker gives, laid over the proposed ones."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import LandmarkMissing, Where, first_point
from ..mesh import Floats, TriMesh
from .landmark_names import DEFINITIONS
from .landmark_set import Landmark, Landmarks
from .snap import snap_to_skin

ON_SKIN_MM = 5.0
"""A given landmark farther than this from the skin belongs to another scan or another unit."""


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
    return given_landmarks(_read(Path(path)), mesh_mm, mm_per_unit, Path(path).name)


def given_landmarks(
    data: dict[str, Any], mesh_mm: TriMesh, mm_per_unit: float = 1.0, key: str = "landmarks"
) -> dict[str, Landmark]:
    """Check given landmarks and put them on the skin; for arguments and errors see `landmarks_from_file`."""
    unknown = sorted(set(data) - set(DEFINITIONS))
    if unknown:
        raise LandmarkMissing(
            f"{unknown[0]!r} is no known landmark.",
            Where("landmarks", key=f"{key}: {unknown[0]}"),
            "Use one of: " + ", ".join(DEFINITIONS) + ".",
        )
    names = sorted(data)
    if not names:
        return {}
    points = np.array([_point(data[name], name, key) for name in names]) * mm_per_unit
    places, away = snap_to_skin(mesh_mm, points, ON_SKIN_MM)
    off = [index for index, distance in enumerate(away) if not np.isfinite(distance)]
    if off:
        raise LandmarkMissing(
            f"{names[off[0]]} lies more than {ON_SKIN_MM:g} mm off the skin"
            + (f", as do {len(off) - 1} others." if len(off) > 1 else "."),
            Where("landmarks", first_point(points[off].tolist()), "scan", key=f"{key}: {names[off[0]]}"),
            "Give the points in the coordinates and the unit of this scan.",
        )
    return {name: Landmark(place, 1.0, "given") for name, place in zip(names, places, strict=True)}


def overridden(proposed: Landmarks, given: dict[str, Landmark]) -> Landmarks:
    """The proposed landmarks with the given ones in their place; doubts about those are dropped."""
    remarks = tuple(r for r in proposed.remarks if not set(given) & set(r.where.key.split(", ")))
    return Landmarks({**proposed.by_name, **given}, proposed.across, remarks)


def _read(path: Path) -> dict[str, Any]:
    where = Where("landmarks", key=path.name)
    fix = 'Give JSON such as {"sellion": [0, 48, 95], "menton": [0, -64, 90]} in scan coordinates.'
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise LandmarkMissing(f"The landmark file cannot be read: {error}.", where, fix) from error
    if not isinstance(data, dict):
        raise LandmarkMissing("The landmark file is no list of names and points.", where, fix)
    return data


def _point(value: Any, name: str, key: str) -> Floats:
    """Three finite numbers, or a refusal."""
    good = isinstance(value, list | tuple | np.ndarray) and len(value) == 3
    # The comparison is false for NaN too.
    if not good or not all(
        isinstance(c, int | float) and type(c) is not bool and abs(c) < 1e9 for c in value
    ):
        raise LandmarkMissing(
            f"{name} is {value!r}; it must be three numbers.",
            Where("landmarks", key=f"{key}: {name}"),
            "Give x, y, z in scan coordinates.",
        )
    return np.asarray(value, dtype=np.float64)

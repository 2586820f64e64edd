"""A set of landmarks on one scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ...errors import LandmarkMissing, Remark, Where, first_point
from ...mesh import Floats, TriMesh
from ..landmark_names import DEFINITIONS
from .snap import snap_to_skin

ON_SKIN_MM = 5.0
"""A given landmark farther than this from the skin belongs to another scan or another unit."""


@dataclass(frozen=True, eq=False)
class Landmark:
    """One landmark.

    Attributes
    ----------
    point : (3,) mm, scan frame.
    confidence : 0..1, the chance that it lies within 5 mm of the truth, calibrated on heads of known truth
        (`confidence`; docs/landmarks).
    source : "proposed" or "given".
    """

    point: Floats
    confidence: float
    source: str = "proposed"


@dataclass(frozen=True, eq=False)
class Landmarks:
    """The landmarks of one scan.

    Attributes
    ----------
    by_name : name -> landmark; left is the wearer's left.
    across : (3,) unit vector to the wearer's left, normal to the mirror plane of the face, scan frame.
    remarks : what the maker should know.
    """

    by_name: Mapping[str, Landmark]
    across: Floats
    remarks: tuple[Remark, ...] = field(default=())

    def __contains__(self, name: str) -> bool:
        return name in self.by_name

    def __getitem__(self, name: str) -> Landmark:
        if name not in self.by_name:
            raise LandmarkMissing(
                f"The landmark {name} is missing.",
                Where("scan", key=name, frame="scan"),
                f"Place {name} by hand, or rescan the face so that it can be seen.",
            )
        return self.by_name[name]

    def point(self, name: str) -> Floats:
        """Place of a landmark (3,), mm, scan frame.

        Raises
        ------
        LandmarkMissing : there is none of this name.
        """
        return self[name].point

    def points(self) -> dict[str, Floats]:
        """All places: name -> (3,) mm, scan frame."""
        return {name: mark.point for name, mark in self.by_name.items()}

    def moved(self, transform: Floats) -> Landmarks:
        """The landmarks under a rigid 4x4 transform."""
        rotation, shift = transform[:3, :3], transform[:3, 3]
        marks = {
            name: Landmark(rotation @ mark.point + shift, mark.confidence, mark.source)
            for name, mark in self.by_name.items()
        }
        return Landmarks(marks, np.asarray(rotation @ self.across), self.remarks)

    def with_given(self, given: Mapping[str, object], mesh_mm: TriMesh) -> Landmarks:
        """The landmarks with the maker's own in their place, put on the skin; doubts about those are dropped.

        Parameters
        ----------
        given : name -> (x, y, z) mm, scan frame.
        mesh_mm : the scan, mm.

        Raises
        ------
        LandmarkMissing : an unknown name, a point that is no three numbers, or one off the skin.
        """
        marks = given_landmarks(given, mesh_mm)
        remarks = tuple(r for r in self.remarks if not set(marks) & set(r.where.key.split(", ")))
        return Landmarks({**self.by_name, **marks}, self.across, remarks)


def given_landmarks(given: Mapping[str, object], mesh_mm: TriMesh) -> dict[str, Landmark]:
    """Check landmarks and put them on the skin; for arguments and errors see `Landmarks.with_given`."""
    unknown = sorted(set(given) - set(DEFINITIONS))
    if unknown:
        raise LandmarkMissing(
            f"{unknown[0]!r} is no known landmark.",
            Where("landmarks", key=str(unknown[0])),
            "Use one of: " + ", ".join(DEFINITIONS) + ".",
        )
    names = sorted(given)
    if not names:
        return {}
    points = np.array([checked_point(given[name], name) for name in names])
    places, away = snap_to_skin(mesh_mm, points, ON_SKIN_MM)
    off = [index for index, distance in enumerate(away) if not np.isfinite(distance)]
    if off:
        others = f", as do {len(off) - 1} others." if len(off) > 1 else "."
        raise LandmarkMissing(
            f"{names[off[0]]} lies more than {ON_SKIN_MM:g} mm off the skin{others}",
            Where("landmarks", first_point(points[off].tolist()), "scan", key=names[off[0]]),
            "Give the points in the coordinates and the unit of this scan.",
        )
    return {name: Landmark(place, 1.0, "given") for name, place in zip(names, places, strict=True)}


def checked_point(value: object, name: str) -> Floats:
    """Three usable numbers (3,), or a refusal."""
    items: object = value.tolist() if isinstance(value, np.ndarray) else value
    # The comparison is false for NaN too.
    if not (
        isinstance(items, list | tuple)
        and len(items) == 3
        and all(isinstance(c, int | float) and type(c) is not bool and abs(c) < 1e9 for c in items)
    ):
        raise LandmarkMissing(
            f"{name[:40]} is {_shown(items)}; it must be three numbers.",
            Where("landmarks", key=name[:40]),
            "Give x, y, z in scan coordinates.",
        )
    return np.asarray(items, dtype=np.float64)


def _shown(value: object) -> str:
    """A value that is no point, short and in plain numbers."""
    if isinstance(value, int | float) and type(value) is not bool:
        return f"{value:g}" if isinstance(value, float) or abs(value) < 10**15 else "an endless number"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_shown(v) for v in value[:4]) + (", ...]" if len(value) > 4 else "]")
    if isinstance(value, dict):
        return "an object"
    return repr(str(value)[:20]) if isinstance(value, str) else str(value)[:20]

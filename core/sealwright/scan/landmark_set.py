"""A set of landmarks on one scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..errors import LandmarkMissing, Remark, Where
from ..mesh import Floats


@dataclass(frozen=True, eq=False)
class Landmark:
    """One landmark.

    Attributes
    ----------
    point : (3,) mm, scan frame.
    confidence : 0..1, the chance that it lies within 4 mm of where a careful person would put it.
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

"""The section of a free edge: both sides roll off the skin at one distance and end in a half circle.

Coordinates of a section in mm from where the edge leaves the skin: outwards along it, then away from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where
from ..mesh import Floats
from .settings import EdgeSettings

_STEP_RAD = np.radians(11.0)  # chords of a circle of 4 mm lie within 0.02 mm of it
_LEAST_MM = 0.3  # radius that is left to the outer side


@dataclass(frozen=True)
class EdgeSection:
    """A section.

    Attributes
    ----------
    thickness_mm, radius_mm, roll_rad : of the shell, and of the roll on the skin side; a roll of 0 has no
        radius.
    """

    thickness_mm: float
    radius_mm: float
    roll_rad: float

    @property
    def width_mm(self) -> float:
        """From where the edge leaves the skin to its outermost place."""
        half = 0.5 * self.thickness_mm
        return (self.radius_mm - half) * float(np.sin(self.roll_rad)) + half

    def points(self) -> Floats:
        """The section (k, 2) from the outer side, over where it leaves, round the end to the skin side."""
        half = 0.5 * self.thickness_mm
        count = max(int(np.ceil(self.roll_rad / _STEP_RAD)), 1)
        turn = np.linspace(0.0, self.roll_rad, count + 1) if self.roll_rad > 0.0 else np.zeros(1)
        sides = []
        for radius in (self.radius_mm - self.thickness_mm, self.radius_mm):
            sides.append(np.column_stack([radius * np.sin(turn), self.radius_mm - radius * np.cos(turn)]))
        middle = 0.5 * (sides[0][-1] + sides[1][-1])
        steps = int(np.ceil(np.pi / _STEP_RAD))
        round_end = self.roll_rad + 0.5 * np.pi - np.arange(1, steps) * (np.pi / steps)
        end = middle + half * np.column_stack([np.cos(round_end), np.sin(round_end)])
        return np.vstack([sides[0], end, sides[1][::-1]])


def edge_section(thickness_mm: float, edge: EdgeSettings) -> EdgeSection:
    """The section of the edge of a shell.

    Raises
    ------
    DoesNotFit : the shell is too thick to roll by this radius.
    """
    if edge.roll_deg > 0.0 and edge.radius_mm < thickness_mm + _LEAST_MM:
        raise DoesNotFit(
            f"A shell {thickness_mm:g} mm thick cannot roll by a radius of {edge.radius_mm:g} mm.",
            Where("edge", key="recipe.shell.edge.radius_mm"),
            f"Give a radius of {thickness_mm + _LEAST_MM:g} mm or more, a thinner shell, or a roll of 0.",
        )
    return EdgeSection(thickness_mm, edge.radius_mm, float(np.radians(edge.roll_deg)))


def flat_end(thickness_mm: float) -> EdgeSection:
    """The section of an edge that does not roll, as that of a slot."""
    return EdgeSection(thickness_mm, 0.0, 0.0)

"""The mask as a weight on a moving head: positions of the head, a jolt, and breath, as loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .equilibrium import Wrench

GRAVITY_M_S2 = 9.80665
"""Standard gravity, exact by definition (3rd CGPM 1901; from memory)."""

JOLT_G = 2.0
"""Jolt by which the mask is tried, in weights: a stumble or a hard stop; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class HungPart:
    """One thing that hangs: its name, mass, centre of mass (3,) in the face frame, and how they are known."""

    name: str
    mass_g: float
    centre_mm: Floats
    taken_from: str


@dataclass(frozen=True, eq=False)
class Hanging:
    """What hangs on the straps and the face.

    Attributes
    ----------
    mass_g : of all parts together.
    centre_mm : (3,) centre of mass, face frame.
    parts : what it is the sum of.
    lever_mm : horizontal distance of the centre in front of the nose bridge (sellion), head upright.
    """

    mass_g: float
    centre_mm: Floats
    parts: tuple[HungPart, ...] = ()
    lever_mm: float = 0.0

    @property
    def weight_n(self) -> float:
        """Weight, N."""
        return self.mass_g * 1e-3 * GRAVITY_M_S2

    @property
    def moment_nmm(self) -> float:
        """Moment of the weight about the nose bridge with the head upright, N mm."""
        return self.weight_n * self.lever_mm


WEIGHTLESS = Hanging(0.0, np.zeros(3))
"""No weight at all: for closed forms."""


def hanging_of(parts: Sequence[HungPart], bridge: Floats) -> Hanging:
    """The sum of parts; ``bridge`` (3,) mm is the nose bridge that the lever is measured from."""
    mass = sum(part.mass_g for part in parts)
    centre = sum((part.mass_g * part.centre_mm for part in parts), start=np.zeros(3)) / max(mass, 1e-9)
    return Hanging(mass, centre, tuple(parts), float(bridge[1] - centre[1]))  # -Y is out of the face


@dataclass(frozen=True)
class HeadPosition:
    """One way the head is held.

    Attributes
    ----------
    key, text : name in files, and in words.
    pull : weights of the mask along the axes of the face frame (left, back, up).
    """

    key: str
    text: str
    pull: tuple[float, float, float]


def _bent(degrees: float) -> tuple[float, float, float]:
    turn = np.radians(degrees)
    return (0.0, -float(np.sin(turn)), -float(np.cos(turn)))


def _aside(degrees: float) -> tuple[float, float, float]:
    turn = np.radians(degrees)
    return (float(np.sin(turn)), 0.0, -float(np.cos(turn)))


POSITIONS: tuple[HeadPosition, ...] = (
    HeadPosition("upright", "head upright", (0.0, 0.0, -1.0)),
    HeadPosition("bent_forward", "head bent forward by 60 deg", _bent(60.0)),
    HeadPosition("tilted_left", "head tilted to the left by 45 deg", _aside(45.0)),
    HeadPosition("tilted_right", "head tilted to the right by 45 deg", _aside(-45.0)),
    HeadPosition("lying", "lying on the back", (0.0, 1.0, 0.0)),
    HeadPosition("jolt", "a jolt of 2 g forward, head upright", (0.0, -JOLT_G, -1.0)),
)
"""Positions in which the mask must hold while the wearer breathes out; the jolt comes on top of the "
"weight."""


def weight_wrench(hanging: Hanging, pull: tuple[float, float, float] | Floats, about_mm: Floats) -> Wrench:
    """Force and moment of the weight about a point, for a head held so that weight acts along ``pull``."""
    force = hanging.weight_n * np.asarray(pull, dtype=np.float64)
    return Wrench(force, np.cross(hanging.centre_mm - about_mm, force))

"""Menton on the midline profile: where the chin turns under, by how the profile bends above and below it.

On a receding chin the profile leans by 30 degrees before it turns, under a jutting one the throat falls off
at once: no one direction of a ruler touches the chin at menton. How the bend goes on around it tells.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from ...mesh import Floats
from .profile import MidlineProfile
from .template import template

STEPS_MM = np.arange(-25.0, 30.5, 5.0)
"""Where the direction of the profile is read, along it, on a face of usual size."""

STRIDE_MM, BEND_SIGMA = 0.5, 4.0
GAP_MM = 9.0
"""A longer jump of the profile is no skin but a look past the chin."""

BEYOND_MM = 30.0
"""So far below the last skin menton is thought possible."""

JOIN_MM = 2.0


@dataclass(frozen=True, eq=False)
class Course:
    """The profile by its length from the nose base down, every half millimetre over the size of the face.

    Attributes
    ----------
    along : (k,) length over size. z, height : (k,) mm. down : (k,) mm below the nose base over size.
    turn : (k,) direction in units of 10 degrees: 0 straight down, 9 straight back; NaN without skin.
    """

    along: Floats
    z: Floats
    height: Floats
    down: Floats
    turn: Floats


@dataclass(frozen=True)
class Menton:
    """Where menton is.

    Attributes
    ----------
    z, height : mm. chance : that it is within 5 mm. beyond : chance that it lies below the skin of the scan.
    """

    z: float
    height: float
    chance: float
    beyond: float


def course_of(profile: MidlineProfile, subnasale: float, size: float) -> Course | None:
    """Follow the profile down from the nose base to the last skin, and on without skin; None if too short."""
    take = profile.known & (profile.z <= subnasale)
    z, height = profile.z[take][::-1], profile.height[take][::-1]
    if len(z) < 60:
        return None
    gap = np.hypot(np.diff(z), np.diff(height))
    length = np.concatenate([[0.0], np.cumsum(gap)])
    along = np.arange(0.0, length[-1], STRIDE_MM * size)
    places = np.interp(along, length, z), np.interp(along, length, height)
    soft = [gaussian_filter1d(part, BEND_SIGMA, mode="nearest") for part in places]
    turn = np.unwrap(np.arctan2(-np.gradient(soft[1]), -np.gradient(soft[0])))
    leap = np.interp(along, 0.5 * (length[1:] + length[:-1]), (gap > GAP_MM).astype(np.float64)) > 0.5
    turn = np.where(leap, np.nan, np.degrees(turn) / 10.0)
    more = np.arange(1.0, BEYOND_MM / STRIDE_MM + 1.0) * STRIDE_MM
    return Course(
        np.concatenate([along / size, along[-1] / size + more]),
        np.concatenate([places[0], places[0][-1] - more * size]),
        np.concatenate([places[1], np.full(len(more), places[1][-1])]),
        np.concatenate([(subnasale - places[0]) / size, (subnasale - places[0][-1]) / size + more]),
        np.concatenate([turn, np.full(len(more), np.nan)]),
    )


def course_features(course: Course, size: float) -> Floats:
    """Features (k, 14): the direction at twelve places above and below, the size, and how far down it is."""
    # Whole strides, so that no rounding decides whether a place at the end of the skin still counts.
    ends = np.full(int(STEPS_MM[-1] / STRIDE_MM), np.nan)
    turn, first = np.concatenate([ends, course.turn, ends]), len(ends)
    starts = first + np.rint(STEPS_MM / STRIDE_MM).astype(int)
    turns = [turn[start : start + len(course.along)] for start in starts]
    log_size = np.full(len(course.along), 10.0 * np.log(size))
    return np.column_stack([*turns, log_size, 0.2 * course.down])


def find_menton(profile: MidlineProfile, subnasale: float, size: float) -> Menton | None:
    """Menton and how sure it is; None where the profile is too short to say.

    Parameters
    ----------
    subnasale : height of the nose base, mm.
    """
    course = course_of(profile, subnasale, size)
    if course is None:
        return None
    known = template("menton")
    usual = np.abs(course.down - known.place[0]) < 3.3 * np.sqrt(known.spread[0, 0])
    skin = np.isfinite(course.turn)
    beyond = np.arange(len(skin)) > np.flatnonzero(skin)[-1]
    possible = usual & (skin | beyond)
    if not (possible & skin).any():
        return None
    score = np.where(possible, known.ratio(course_features(course, size)), -np.inf)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    best = int(np.argmax(np.where(skin, score, -np.inf)))
    near = weight * skin * np.exp(-0.5 * ((course.along - course.along[best]) / JOIN_MM) ** 2)
    along, z, height = (
        float(np.average(part, weights=near)) for part in (course.along, course.z, course.height)
    )
    chance = known.chance_within(size * np.abs(course.along - along), weight, 1)
    return Menton(z, height, chance, float(weight[beyond].sum()))

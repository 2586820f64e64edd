"""Whether the proportions of a face are those of a face: a stretch along one axis against usual spreads.

Sizes along three axes and distances between landmarks are compared as logarithms, so that a uniform size
drops
out. The most likely stretch along each axis is a generalised least-squares estimate with the covariance of
usual
faces; how many standard deviations it lies from none is what is judged (a Mahalanobis distance along the
direction of that stretch; Mahalanobis 1936).

Weak: faces differ in their proportions, so small stretches cannot be told from a person's own, and depth is
the least regular of all: a face that is 15 % too flat is not seen (docs/plausible.md has the rates).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..mesh import Floats
from ..tables import table

AXES = ("across", "deep", "upright")
"""Along X, Y and Z of the face frame."""

MEASURES: dict[str, tuple[float, float, float]] = {
    "face_length": (0.0, 0.0, 1.0),
    "nose_length": (0.0, 0.05, 0.95),
    "lip_length": (1.0, 0.0, 0.0),
    "nose_breadth": (1.0, 0.0, 0.0),
    "nose_protrusion": (0.0, 0.4, 0.6),
    "inner_eyes": (1.0, 0.0, 0.0),
    "sellion_to_stomion": (0.0, 0.0, 1.0),
    "relief_across": (1.0, 0.0, 0.0),
    "relief_deep": (0.0, 1.0, 0.0),
    "relief_upright": (0.0, 0.0, 1.0),
}
"""What is compared, and how much of a stretch along each axis it takes up (computed on the open heads)."""

PAIRS: dict[str, tuple[str, str]] = {
    "face_length": ("sellion", "menton"),
    "nose_length": ("subnasale", "sellion"),
    "lip_length": ("cheilion_left", "cheilion_right"),
    "nose_breadth": ("alare_left", "alare_right"),
    "nose_protrusion": ("subnasale", "pronasale"),
    "inner_eyes": ("endocanthion_left", "endocanthion_right"),
    "sellion_to_stomion": ("sellion", "stomion"),
}
"""The landmarks that a distance runs between."""

_POSE_SPREAD = 0.15  # of the logarithm of a size of the relief when half of the pose is in doubt (open heads)
_LANDMARK_MM = (
    2.0  # as in sizing: error of a landmark of full confidence, which the usual covariance has in it
)


@dataclass(frozen=True)
class AxisStretch:
    """The likeliest stretch along one axis.

    Attributes
    ----------
    axis : one of `AXES`.
    factor : size along it over the others.
    sigmas : standard deviations from no stretch; 0 where nothing could be compared.
    """

    axis: str
    factor: float
    sigmas: float


@dataclass(frozen=True)
class UsualProportions:
    """Mean logarithms (k,) and their covariance (k, k), in the order of `MEASURES`."""

    mean: Floats
    covariance: Floats


@cache
def usual_proportions() -> UsualProportions:
    """The table of usual proportions."""
    rows = table("anthropometry")["proportions"]
    assert list(rows["measures"]) == list(MEASURES)
    return UsualProportions(np.array(rows["mean_log"]), np.array(rows["covariance"]))


def distances_of(points: Mapping[str, Floats]) -> dict[str, float]:
    """Distances between landmarks (3,) that `MEASURES` names, mm; those with both ends set."""
    return {
        name: math.dist(points[one], points[other])
        for name, (one, other) in PAIRS.items()
        if one in points and other in points
    }


def worst_stretch(values: Mapping[str, float], confidences: Mapping[str, float]) -> AxisStretch:
    """The axis along which a face is most likely stretched.

    Parameters
    ----------
    values : measure -> mm, or a size for the relief; at least four measures.
    confidences : landmark -> 0 to 1, and "pose" of the face; absent is 1.
    """
    usual = usual_proportions()
    names = [name for name, value in values.items() if name in MEASURES and value > 0.0]
    rows = [list(MEASURES).index(name) for name in names]
    if len(rows) < 4:
        return AxisStretch(AXES[0], 1.0, 0.0)
    off = np.log([values[name] for name in names]) - usual.mean[rows]
    covariance = usual.covariance[np.ix_(rows, rows)].copy()
    covariance[np.diag_indices(len(rows))] += [_unsure(name, values, confidences) for name in names]
    inverse = np.linalg.inv(covariance)
    # Uniform size is free: its direction is projected out.
    even = inverse @ np.ones(len(rows))
    inverse = inverse - np.outer(even, even) / even.sum()
    found = []
    for axis, direction in zip(AXES, np.array([MEASURES[name] for name in names]).T, strict=True):
        power = float(direction @ inverse @ direction)
        if power > 1e-9:
            amount = float(direction @ inverse @ off) / power
            found.append(AxisStretch(axis, math.exp(amount), abs(amount) * math.sqrt(power)))
    return max(found, key=lambda one: one.sigmas, default=AxisStretch(AXES[0], 1.0, 0.0))


def _unsure(name: str, values: Mapping[str, float], confidences: Mapping[str, float]) -> float:
    """Variance that unsure landmarks add to the logarithm of a distance."""
    if name not in PAIRS:
        return _POSE_SPREAD**2 * (1.0 / max(confidences.get("pose", 1.0), 0.05) - 1.0)
    ends = PAIRS[name]
    extra = sum(_LANDMARK_MM**2 * (1.0 / max(confidences.get(end, 1.0), 0.05) - 1.0) for end in ends)
    return extra / values[name] ** 2

"""Confidence as a probability: how clear a landmark is, turned into the chance that it is right."""

from __future__ import annotations

import numpy as np

from ...tables import table

MOST_CONFIDENT = 0.97
"""The most that is claimed."""

GROUPS: dict[str, str] = {
    "glabella": "nose",
    "sellion": "nose",
    "pronasale": "nose",
    "subnasale": "nose",
    "stomion": "mouth",
    "supramenton": "chin",
    "pogonion": "chin",
    "menton": "menton",
    "alare": "wings",
    "subalare": "wings",
    "cheilion": "mouth",
    "endocanthion": "eyes",
    "exocanthion": "eyes",
}
"""Landmarks that are judged alike: kind of landmark -> group."""


def without_side(name: str) -> str:
    """Name of a landmark without its side."""
    return name.removesuffix("_left").removesuffix("_right")


def calibrated(name: str, clear: float) -> float:
    """Chance that a landmark lies within 5 mm of the truth.

    Logistic regression (Platt's scaling, common practice) over the log odds of ``clear``; the two numbers of
    each group come from `tools/reliability.py --fit`.

    Parameters
    ----------
    clear : 0..1, how clear the feature is: its sharpness or the likelihood of its template, the skin round
        it, how usual its place is, how sure the pose is.
    """
    if not clear > 0.0:
        return 0.0
    offset, slope = table("landmark_templates")["calibration"][GROUPS[without_side(name)]]
    return min(MOST_CONFIDENT, float(1.0 / (1.0 + np.exp(-offset - slope * log_odds(clear)))))


def log_odds(clear: float) -> float:
    """Logarithm of the odds, of values kept from 0 and 1."""
    kept = float(np.clip(clear, 0.005, 0.995))
    return float(np.log(kept / (1.0 - kept)))

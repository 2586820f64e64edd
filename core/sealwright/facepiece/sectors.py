"""Sectors of the seal line in the maker's words: nose bridge, nose sides, cheeks, mouth sides, jaws, chin."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats
from .closed_curve import arc_lengths

SECTORS = (
    "nose bridge",
    "left nose side",
    "left cheek",
    "left mouth side",
    "left jaw",
    "chin",
    "right jaw",
    "right mouth side",
    "right cheek",
    "right nose side",
)
"""Names in the order of the stations: from the nose down the wearer's left, under the chin, and up again."""


def sectors_of(points: Floats, landmarks: Mapping[str, Floats]) -> NDArray[np.int64]:
    """The sector of each station, as an index (n,) into `SECTORS`.

    Parameters
    ----------
    points : (n, 3) stations in mm, face frame, starting at the nose and running to the wearer's left.
    landmarks : name -> (3,) mm; sellion, alares, cheilions and menton are used.

    Notes
    -----
    Each sector has one place of the face; the line passes it where it comes nearest, and the sectors meet
    half way between, along the line. The places need nothing of how the line was drawn, so lines through the
    maker's own points have the same sectors.
    """
    along = arc_lengths(points)
    middle = len(points) // 2
    chin = int(np.argmin(np.linalg.norm(points - landmarks["menton"], axis=1)))
    chin = chin if len(points) // 4 < chin < 3 * len(points) // 4 else middle
    down = _passed(points, _places(landmarks, "left"), np.arange(1, chin))
    up = _passed(points, _places(landmarks, "right")[::-1], np.arange(chin + 1, len(points)))
    at = np.concatenate([[0.0], along[down], [along[chin]], along[up], [along[-1]]])
    borders = (at[1:] + at[:-1]) / 2.0
    return np.asarray(np.searchsorted(borders, along[:-1], side="right") % len(SECTORS))


def _places(landmarks: Mapping[str, Floats], side: str) -> Floats:
    """Places (4, 3) of the face that stand for nose side, cheek, mouth side and jaw, mm."""
    alare, corner = landmarks[f"alare_{side}"], landmarks[f"cheilion_{side}"]
    out = corner * np.array([1.0, 0.0, 0.0])
    nose_side = 0.5 * (landmarks["sellion"] + alare)
    jaw = np.array([corner[0], landmarks["menton"][1], landmarks["menton"][2]])
    return np.array([nose_side, 0.5 * (alare + corner) + out, corner + out, jaw])


def _passed(points: Floats, places: Floats, within: NDArray[np.int64]) -> NDArray[np.int64]:
    """Stations (k,) nearest to some places (k, 3), made to follow each other along the line."""
    away = np.linalg.norm(points[within][:, None] - places[None], axis=2)
    return np.maximum.accumulate(within[np.argmin(away, axis=0)])

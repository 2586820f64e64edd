"""How large a face is, as a plain number."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...mesh import Floats

USUAL_FACE_MM = 115.0
"""Sellion to menton of a middling adult; a face of this length has size 1, for which distances are given."""


def face_size(landmarks: Mapping[str, Floats]) -> float:
    """Length of a face from sellion to menton over `USUAL_FACE_MM`; landmarks (3,) in mm by name."""
    return float(np.linalg.norm(landmarks["sellion"] - landmarks["menton"]) / USUAL_FACE_MM)

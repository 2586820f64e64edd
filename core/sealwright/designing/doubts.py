"""The landmarks of low confidence that a place of the design hangs on."""

from __future__ import annotations

import numpy as np

from ..errors import DesignError
from ..facepiece.seal_line_proposal import NEEDED
from ..limits import limit
from ..mesh import Floats
from .prepared import Prepared

_NEAR_MM = 40.0  # the jaw's part of the seal line runs so far from menton, which places it


def doubts_at(prepared: Prepared, points: Floats) -> str:
    """Says which uncertain landmarks place the seal line near some points; "" for none.

    Parameters
    ----------
    prepared : the wearer.
    points : (k, 3) in the face frame, mm.
    """
    said = []
    for name in NEEDED:
        sure = prepared.confidence.get(name, 1.0)
        if name not in prepared.landmarks or sure >= limit("landmark_uncertain").value:
            continue
        if np.linalg.norm(points - prepared.landmarks[name], axis=1).min() < _NEAR_MM * prepared.size:
            said.append(f"{name} is uncertain ({sure:.1f}): set it by hand.")
    return " ".join(said)


def name_doubts(refusal: DesignError, prepared: Prepared) -> None:
    """Let a refusal also name the uncertain landmarks near its place."""
    where = refusal.where
    spots = where.spots or ((where.point,) if where.point is not None else ())
    if spots and where.frame == "face":
        refusal.also(doubts_at(prepared, np.array(spots)))

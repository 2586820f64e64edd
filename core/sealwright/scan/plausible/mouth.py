"""Whether the wearer's mouth is closed and at rest: lips apart, or drawn into a smile."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..landmarks.depth_map import DepthMap
from ..landmarks.landmark_set import Landmarks
from ..pose.pose import Pose
from .lip_gap import lip_gap

CORNERS = ("cheilion_left", "cheilion_right")

LIP_LENGTH_MM, LIP_SPREAD_MM = 49.5, 4.3
"""Mean lip length of both sexes and its spread (docs/standards 1.2, from memory)."""

CORNER_DROP_MM, DROP_SPREAD_MM = 2.8, 1.6
"""How far the corners lie under the middle of closed lips at rest (computed on the open heads)."""

HIGHEST_MM = 6.5
"""Smiles of the open heads lift the corners by up to 4.4 mm above the middle of the mouth."""


@dataclass(frozen=True)
class Mouth:
    """The mouth of a scan.

    Attributes
    ----------
    gap_mm : median height of the opening between the lips near the midline; 0 for closed lips.
    deepest_mm : how far the skin between the lips lies behind them; infinite where there is none.
    line_seen : confidence of stomion; low where a sensor has spanned an open mouth with skin of its own.
    smile : standard deviations by which the mouth is wider and its corners higher than at rest.
    """

    gap_mm: float
    deepest_mm: float
    line_seen: float
    smile: float


def mouth_of(depth: DepthMap, marks: Landmarks, pose: Pose) -> Mouth:
    """Look at the mouth.

    Parameters
    ----------
    depth : the face from the front, approximate face frame.
    marks : landmarks, scan frame.
    pose : of the scan.

    Raises
    ------
    LandmarkMissing : no stomion.
    """
    turn, shift = pose.scan_to_face[:3, :3], pose.scan_to_face[:3, 3]
    middle = turn @ marks.point("stomion") + shift
    gap = lip_gap(depth, float(middle[2]), pose.size)
    smile = 0.0
    if all(name in marks for name in CORNERS):
        left, right = (turn @ marks.point(name) + shift for name in CORNERS)
        wide = (math.dist(left, right) - LIP_LENGTH_MM) / LIP_SPREAD_MM
        above = float(left[2] + right[2]) / 2.0 - float(middle[2])
        # Corners far above the middle are no smile: then middle or corners were found wrong, and say nothing.
        risen = (above + CORNER_DROP_MM) / DROP_SPREAD_MM if above < HIGHEST_MM * pose.size else 0.0
        # A wide mouth is common and so are level corners; a smile has both.
        smile = (wide + risen) / math.sqrt(2.0)
    return Mouth(gap.gap_mm, gap.deepest_mm, float(marks["stomion"].confidence), smile)

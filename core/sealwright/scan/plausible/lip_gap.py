"""How far the lips stand apart: the opening between them on the face seen from the front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...mesh import Floats
from ..landmarks.depth_map import STEP_MM, DepthMap

HALF_WIDTH_MM = 7.0
"""Columns about the midline that are looked at: lips part there first."""

ABOVE_MM, BELOW_MM = 16.0, 24.0
"""How far the crest of the upper lip lies above the middle of the mouth at most, the lower one below it."""

DEEP_MM = 7.5
"""Skin so far behind the line from lip to lip is the inside of a mouth: the valley between closed lips is up
to 6.8 mm deep on open and invented heads."""


@dataclass(frozen=True)
class LipGap:
    """The opening between the lips.

    Attributes
    ----------
    gap_mm : median height of the opening over the columns about the midline; 0 for closed lips.
    deepest_mm : how far the deepest skin between the lips lies behind them; infinite where there is none.
    """

    gap_mm: float
    deepest_mm: float


def lip_gap(depth: DepthMap, stomion_z: float, size: float) -> LipGap:
    """Measure the opening between the lips.

    Parameters
    ----------
    depth : the face from the front.
    stomion_z : height of the middle of the mouth in the frame of the map, mm.
    size : of the face over a usual one.
    """
    columns = np.flatnonzero(np.abs(depth.x) <= HALF_WIDTH_MM * size)
    found = [_opening(depth, int(column), stomion_z, size) for column in columns]
    gaps, depths = zip(*found, strict=True)
    return LipGap(float(np.median(gaps)), float(np.median(depths)))


def _opening(depth: DepthMap, column: int, stomion_z: float, size: float) -> tuple[float, float]:
    """Height of the opening and depth of its deepest skin in one column, mm."""
    z, height = depth.z, depth.height[:, column]
    upper, lower = (
        _crest(z, height, stomion_z, ABOVE_MM * size),
        _crest(z, height, stomion_z, -BELOW_MM * size),
    )
    if upper is None or lower is None:
        return 0.0, 0.0
    rows = np.arange(lower + 1, upper)
    if not len(rows):
        return 0.0, 0.0
    line = np.interp(z[rows], [z[lower], z[upper]], [height[lower], height[upper]])
    behind = np.where(np.isnan(height[rows]), np.inf, line - np.nan_to_num(height[rows]))
    return STEP_MM * float(np.count_nonzero(behind > DEEP_MM)), float(behind.max())


def _crest(z: Floats, height: Floats, stomion_z: float, reach: float) -> int | None:
    """Row of the foremost skin within reach above the middle of the mouth, or below it where negative."""
    low, high = sorted((stomion_z, stomion_z + reach))
    rows = np.flatnonzero((z > low) & (z < high) & ~np.isnan(height))
    # A crest is where the lip comes forward: of equal rows the one nearest the mouth.
    return int(rows[np.argmax(height[rows] - 0.01 * np.abs(z[rows] - stomion_z))]) if len(rows) else None

"""The nostril wings: where the side wall of the nose stands farthest out."""

from __future__ import annotations

import numpy as np

from ...mesh import Floats, Ints
from .depth_map import STEP_MM, DepthMap
from .midline import Spot

BASE_SHARE = 0.72
"""Distance of the lower wing end from the midline over that of the wing itself (from open head models)."""

WALL_SHARE = 0.5
"""Rows less steep than this share of the steepest are the fold beside the wing, not its wall."""


def wing_landmarks(depth: DepthMap, size: float, subnasale: float) -> dict[str, Spot]:
    """Alare and subalare on both sides."""
    slope = np.gradient(depth.smoothed(1.0), STEP_MM, axis=1)
    rows = np.flatnonzero((depth.z > subnasale - 1.0 * size) & (depth.z < subnasale + 14.0 * size)).astype(
        np.int32
    )
    found: dict[str, Spot] = {}
    for name, side in (("left", 1), ("right", -1)):
        wall, steep = _wall(depth, slope, rows, side, size)
        if len(wall) < 5:
            continue
        # The widest place of the wing, as the smooth maximum of the wall over its height.
        is_wall = steep >= WALL_SHARE * steep.max()
        weight = np.exp((wall - wall[is_wall].max()) / (0.4 * size)) * steep * is_wall
        z = float(np.average(depth.z[rows][: len(wall)], weights=weight))
        x = float(np.average(wall, weights=weight))
        clear = float(np.clip((np.average(steep, weights=weight) - 0.3) / 0.8, 0.0, 1.0))
        found[f"alare_{name}"] = Spot(side * x, z, clear)
        found[f"subalare_{name}"] = Spot(side * BASE_SHARE * x, subnasale + 0.8 * size, 0.8 * clear)
    return found


def _wall(depth: DepthMap, slope: Floats, rows: Ints, side: int, size: float) -> tuple[Floats, Floats]:
    """For each row, how far from the midline the nose falls off most steeply, and how steeply."""
    columns = np.flatnonzero((side * depth.x > 8.0 * size) & (side * depth.x < 26.0 * size))
    if side < 0:
        columns = columns[::-1]
    fall = np.nan_to_num(-side * slope[np.ix_(rows, columns)])
    top = fall.argmax(axis=1)
    inner = np.clip(top, 1, len(columns) - 2)
    line = np.arange(len(rows))
    before, here, after = fall[line, inner - 1], fall[line, inner], fall[line, inner + 1]
    bend = np.minimum(before - 2.0 * here + after, -1e-6)
    shift = np.clip(0.5 * (before - after) / bend, -1.0, 1.0)
    distance = np.abs(depth.x[columns[inner]]) + STEP_MM * shift
    return distance, np.maximum(here, 1e-3)

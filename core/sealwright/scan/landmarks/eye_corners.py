"""The corners of the eyes, roughly: from the size of the face and the hollows beside the nose root."""

from __future__ import annotations

import numpy as np

from .depth_map import DepthMap
from .midline import Spot

INNER_MM, OUTER_MM = 16.5, 44.5
"""Usual distance of the inner and outer eye corner from the midline (from open head models)."""


def eye_landmarks(depth: DepthMap, size: float, sellion: float) -> dict[str, Spot]:
    """Inner and outer corners of both eyes; their confidence is low by nature.

    The inner corner is the deepest place beside the nose root; the outer one is only placed by proportion.
    """
    height = depth.smoothed(2.0)
    found: dict[str, Spot] = {}
    for name, side in (("left", 1), ("right", -1)):
        x, z = np.meshgrid(depth.x, depth.z)
        u, v = (side * x - INNER_MM * size) / (4.0 * size), (z - sellion + 5.0 * size) / (4.0 * size)
        near = (u * u + v * v < 4.0) & ~np.isnan(height)
        # An open scan between the lids looks into the head; that is no hollow of the skin.
        near &= height > np.nanmedian(height[near]) - 8.0 if near.any() else False
        if near.sum() < 40:
            continue
        # A smooth minimum: deep places weigh more, places far from the usual one less.
        weight = np.exp(-0.5 * (height[near] + u[near] ** 2 + v[near] ** 2) + 0.5 * height[near].min())
        inner_x, inner_z, level = (float(np.average(a[near], weights=weight)) for a in (x, z, height))
        found[f"endocanthion_{name}"] = Spot(inner_x, inner_z, 0.5, level)
        outer_x, outer_z = OUTER_MM * min(size, 1.05), inner_z + 1.5 * size
        found[f"exocanthion_{name}"] = Spot(side * outer_x, outer_z, 0.3)
    return found

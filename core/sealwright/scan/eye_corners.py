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
        if near.sum() < 40:
            continue
        # A smooth minimum: deep places weigh more, places far from the usual one less. Between the lids
        # an open scan can be very deep; below the usual hollow more depth says no more.
        deep = np.minimum(np.median(height[near]) - height[near], 5.0)
        weight = np.exp(deep / 2.0 - 0.5 * (u * u + v * v)[near])
        inner_x, inner_z = (float(np.average(axis[near], weights=weight)) for axis in (x, z))
        found[f"endocanthion_{name}"] = Spot(inner_x, inner_z, 0.5)
        found[f"exocanthion_{name}"] = Spot(side * OUTER_MM * min(size, 1.05), inner_z + 1.5 * size, 0.3)
    return found

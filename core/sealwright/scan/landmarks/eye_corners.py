"""The corners of the eyes, by the relief round them."""

from __future__ import annotations

import numpy as np

from ...mesh import Floats
from .depth_map import DepthMap
from .midline import Spot
from .patch_search import search_patch


def eye_landmarks(depth: DepthMap, relief: Floats, size: float) -> dict[str, Spot]:
    """Inner and outer corners of both eyes, where the scan has skin round them.

    Parameters
    ----------
    relief : (r, c) smoothed heights, see `patch_search`.
    """
    found: dict[str, Spot] = {}
    sides = (("left", 1), ("right", -1))
    for name, side in sides:
        inner = search_patch(depth, relief, size, "endocanthion", side)
        if inner is not None:
            found[f"endocanthion_{name}"] = inner
    if not found:
        return {}
    # Eyes are level and about equally long, so both inner corners together say where an outer one may be.
    reach = float(np.mean([abs(spot.x) for spot in found.values()]))
    level = float(np.mean([spot.z for spot in found.values()]))
    for name, side in sides:
        outer = search_patch(depth, relief, size, "exocanthion", side, (side * reach, level))
        if outer is not None:
            found[f"exocanthion_{name}"] = outer
    return found

"""Find a landmark by the relief round it: every place near the usual one is compared with a template."""

from __future__ import annotations

import warnings

import numpy as np
from scipy.ndimage import map_coordinates

from ...mesh import Floats
from .depth_map import STEP_MM, DepthMap
from .midline import Spot
from .template import template

PATCH_MM = np.arange(-18.0, 18.5, 6.0)
"""Where the relief is read on both sides of a place, on a face of usual size."""

PATCH_SIGMA_MM = 1.5
REACH_SPREADS = 2.3
"""Places farther than so many standard deviations from the usual one are not tried."""

JOIN_MM = 4.0
"""The answer is the weighted mean of the places about this near the likeliest one."""


def patch_features(
    depth: DepthMap, relief: Floats, size: float, at: tuple[Floats, Floats], side: int
) -> Floats:
    """Heights (n, 49) round places, over the size of the face, against their own mean; NaN without skin.

    Parameters
    ----------
    relief : (r, c) smoothed heights of ``depth``.
    at : x and z (n,) of the places, mm, face frame.
    side : 1 for the wearer's left, -1 for the right, which is read mirrored.
    """
    across, up = np.meshgrid(PATCH_MM * size, PATCH_MM * size)
    x, z = at[0][:, None] + side * across.ravel(), at[1][:, None] + up.ravel()
    rows, columns = (z - depth.z[0]) / STEP_MM, (x - depth.x[0]) / STEP_MM
    height = map_coordinates(relief, [rows, columns], order=1, mode="constant", cval=np.nan) / size
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # rows without any skin
        middle = np.nanmedian(height, axis=1, keepdims=True)
        mean = np.nanmean(np.where(np.abs(height - middle) < 30.0, height, np.nan), axis=1, keepdims=True)
    return np.asarray(np.clip(height - mean, -25.0, 25.0))


def search_patch(
    depth: DepthMap,
    relief: Floats,
    size: float,
    name: str,
    side: int,
    start: tuple[float, float] = (0.0, 0.0),
) -> Spot | None:
    """The likeliest place of a landmark and the chance that it is within 5 mm; None where no skin is near.

    Parameters
    ----------
    name : key of the template; sides have one together.
    start : x and z from which the template counts its usual place, mm; the origin of the pose if not said.
    """
    known = template(name)
    reach = REACH_SPREADS * np.sqrt(np.diag(known.spread))
    across, up = np.meshgrid(*(np.arange(-r, r + 0.5) for r in reach))
    off = np.stack([across.ravel(), up.ravel()], axis=1)
    x = start[0] + side * (known.place[0] + off[:, 0]) * size
    z = start[1] + (known.place[1] + off[:, 1]) * size
    features = patch_features(depth, relief, size, (x, z), side)
    if not np.isfinite(features).any():
        return None
    score = known.ratio(features)
    score -= 0.5 * np.einsum("ni,ij,nj->n", off, np.linalg.inv(known.spread), off)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    best = int(np.argmax(score))
    near = weight * np.exp(-0.5 * ((x - x[best]) ** 2 + (z - z[best]) ** 2) / (JOIN_MM * size) ** 2)
    place_x, place_z = float(np.average(x, weights=near)), float(np.average(z, weights=near))
    chance = known.chance_within(np.hypot(x - place_x, z - place_z), weight, 2)
    return Spot(place_x, place_z, chance)


def search_middle(depth: DepthMap, relief: Floats, size: float, name: str) -> Spot | None:
    """A landmark of the midline: read from both sides, so that a mirrored face gives the mirrored answer."""
    found = [search_patch(depth, relief, size, name, side) for side in (1, -1)]
    spots = [spot for spot in found if spot is not None]
    if not spots:
        return None
    z, strength = (float(np.mean([getattr(s, part) for s in spots])) for part in ("z", "strength"))
    return Spot(0.0, z, strength)

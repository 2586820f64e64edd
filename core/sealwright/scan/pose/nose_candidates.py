"""Places that stick out like a nose: where the search for a face starts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...mesh import Floats, Ints
from .sample import SkinSamples

NOSE_RADIUS_MM = 28.0
"""Neighbourhood of a nose: half the height of a nose and a little more (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class NoseCandidates:
    """Bumps of the skin, the strongest first.

    Attributes
    ----------
    tips : (k, 3) mm, scan frame.
    outward : (k, 3) unit axis out of the bump.
    inward_winding : (k,) true where the triangles face into the bump, as in a scan turned inside out.
    """

    tips: Floats
    outward: Floats
    inward_winding: Ints


def nose_candidates(samples: SkinSamples, at_most: int = 16) -> NoseCandidates:
    """Find bumps of the size of a nose on either side of the surface.

    A tip is a sample that lies higher over its neighbours, along their mean normal, than any other sample
    near.
    """
    points, normals = samples.points, samples.normals
    pairs = cKDTree(points).query_pairs(NOSE_RADIUS_MM, output_type="ndarray")
    mean_point, mean_normal = _means(points, normals, pairs)
    length = np.linalg.norm(mean_normal, axis=1, keepdims=True)
    axis = np.divide(mean_normal, length, out=normals.copy(), where=length > 1e-9)
    height = np.einsum("ij,ij->i", points - mean_point, axis)
    found = [_peaks(sign * height, pairs) for sign in (1.0, -1.0)]
    which = np.concatenate(found)
    sign = np.repeat([1.0, -1.0], [len(part) for part in found])
    order = np.argsort(-sign * height[which], kind="stable")[:at_most]
    which, sign = which[order], sign[order]
    return NoseCandidates(points[which], axis[which] * sign[:, None], (sign < 0).astype(np.int32))


def _means(points: Floats, normals: Floats, pairs: Ints) -> tuple[Floats, Floats]:
    """Mean neighbour point and mean normal of every sample, itself included (n, 3) each."""
    count = len(points)
    number = 1.0 + np.bincount(pairs.ravel(), minlength=count)
    out = []
    for values in (points, normals):
        summed = values.copy()
        for axis in range(3):
            summed[:, axis] += np.bincount(pairs[:, 0], values[pairs[:, 1], axis], minlength=count)
            summed[:, axis] += np.bincount(pairs[:, 1], values[pairs[:, 0], axis], minlength=count)
        out.append(summed / number[:, None])
    return out[0], out[1]


def _peaks(height: Floats, pairs: Ints) -> Ints:
    """Samples higher than 3 mm and than all their neighbours (k,)."""
    first_wins = height[pairs[:, 0]] >= height[pairs[:, 1]]
    losers = np.where(first_wins, pairs[:, 1], pairs[:, 0])
    top = height > 3.0
    top[losers] = False
    return np.flatnonzero(top).astype(np.int32)

"""Landmarks of the midline profile: nose root, nose tip, nose base, lips, chin groove, chin."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

from ...mesh import Bools, Floats
from .depth_map import DepthMap

FINE_MM = 0.25
HALF_BAND_MM, BAND_SIGMA_MM = 8.0, 1.4


@dataclass(frozen=True, eq=False)
class MidlineProfile:
    """The midline seen from the side.

    Attributes
    ----------
    z : (k,) from low to high, every quarter millimetre.
    height : (k,) mm in front of the face frame's origin plane; gaps are bridged straight.
    known : (k,) true where there is skin.
    """

    z: Floats
    height: Floats
    known: Bools

    def piece(self, low: float, high: float) -> tuple[Floats, Floats]:
        """The part of the profile between two heights: z and height."""
        inside = (self.z >= low) & (self.z <= high)
        return self.z[inside], self.height[inside]


def midline_profile(depth: DepthMap, sigma_mm: float) -> MidlineProfile | None:
    """The middle of the face from the side, smoothed; None where the midline has hardly any skin.

    Columns weigh less the farther they are from the midline, so those at |x| > 4 mm only speak where the
    middle has a hole.
    """
    band = np.abs(depth.x) <= HALF_BAND_MM
    weight = (depth.trust[:, band] > 0) * np.exp(-0.5 * (depth.x[band] / BAND_SIGMA_MM) ** 2)
    total = weight.sum(axis=1)
    mean = np.nansum(depth.height[:, band] * weight, axis=1) / np.maximum(total, 1e-12)
    rows = total > 0
    if rows.sum() < 40:
        return None
    fine = np.arange(depth.z[0], depth.z[-1] + 1e-9, FINE_MM)
    height = np.interp(fine, depth.z[rows], mean[rows])
    height = gaussian_filter1d(height, sigma_mm / FINE_MM, mode="nearest")
    return MidlineProfile(fine, height, np.interp(fine, depth.z, rows.astype(np.float64)) > 0.5)


def peak(z: Floats, value: Floats, reach_mm: float = 1.5) -> tuple[float, float, float]:
    """Place, value and sharpness (-second derivative) of the greatest value, between the samples.

    A parabola is fitted over ``reach_mm`` on both sides of the greatest sample.
    """
    top = int(np.argmax(value))
    near = np.abs(z - z[top]) <= reach_mm + 1e-9
    if near.sum() < 3:
        return float(z[top]), float(value[top]), 0.0
    c2, c1, c0 = np.polyfit(z[near] - z[top], value[near], 2)
    if c2 >= 0:
        return float(z[top]), float(value[top]), 0.0
    shift = float(np.clip(-c1 / (2.0 * c2), -reach_mm, reach_mm))
    return float(z[top] + shift), float(c0 + c1 * shift + c2 * shift * shift), float(-2.0 * c2)


def deepest_below_chord(z: Floats, height: Floats) -> tuple[float, float]:
    """Place and depth of the point farthest behind the line between the ends of a piece of profile."""
    along = np.array([z[-1] - z[0], height[-1] - height[0]])
    length = float(np.hypot(*along))
    depth = ((z - z[0]) * along[1] - (height - height[0]) * along[0]) / length
    place, value, _ = peak(z, depth)
    return place, value


def bridge(z: Floats, height: Floats, start: float, least_mm: float, reach_mm: float) -> tuple[float, float]:
    """Ends (low, high) of the straight edge that a ruler laid on the profile from the front takes.

    The ruler rolls over the convex parts away from one end of the piece. The first hollow that it spans is
    meant that is deeper than ``least_mm`` with its deepest point at least ``reach_mm`` from ``start``; where
    there is none, the deepest.

    Parameters
    ----------
    z, height : (k,) the piece of profile, mm, rising z.
    start : z at either end of the piece, where the ruler starts.
    """
    hull: list[int] = []
    for index in range(len(z)):
        while len(hull) >= 2 and _turns_up(z, height, hull[-2], hull[-1], index):
            hull.pop()
        hull.append(index)
    edges = [(a, b) for a, b in pairwise(hull) if b - a > 8]
    if not edges:
        return float(z[0]), float(z[-1])
    if abs(z[-1] - start) < abs(z[0] - start):
        edges.reverse()
    hollows = [deepest_below_chord(z[a : b + 1], height[a : b + 1]) for a, b in edges]
    good = [i for i, (at, deep) in enumerate(hollows) if deep > least_mm and abs(at - start) >= reach_mm]
    a, b = edges[good[0] if good else int(np.argmax([deep for _, deep in hollows]))]
    return float(z[a]), float(z[b])


def _turns_up(z: Floats, h: Floats, a: int, b: int, c: int) -> bool:
    return bool((z[b] - z[a]) * (h[c] - h[a]) - (h[b] - h[a]) * (z[c] - z[a]) >= 0)

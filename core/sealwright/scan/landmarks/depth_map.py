"""The face seen from the front as a height field on a millimetre grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, grey_dilation, grey_erosion, map_coordinates

from ...mesh import Bools, Floats, TriMesh, at_all_corners, turned
from ..pose.sample import front_most, sample_skin

STEP_MM = 1.0
MOST_FACES = 400_000
"""Denser meshes are read with a stride; at 45,000 samples no more triangles are needed."""

PIT_WIDTH_MM, PIT_DEPTH_MM = 19.0, 12.0
"""A pit narrower and deeper than this is a hole in the scan; the nose base is a hollow of half that depth."""

NARROW_MM = 0.7
"""Width (sigma) of the Gaussian with which samples are spread over the grid."""


@dataclass(frozen=True, eq=False)
class DepthMap:
    """Heights of the skin in front of the origin of a face frame.

    Attributes
    ----------
    x, z : (c,), (r,) grid lines, mm, symmetric about x = 0.
    height : (r, c) mm towards the viewer (-Y), NaN where there is no skin.
    trust : (r, c) weight of the samples behind each value; 0 where there is no skin.
    """

    x: Floats
    z: Floats
    height: Floats
    trust: Floats

    def smoothed(self, sigma_mm: float) -> Floats:
        """Heights after a Gaussian that leaves out missing skin (r, c), NaN where nothing is near."""
        known = self.trust > 0
        weight = gaussian_filter(known.astype(np.float64), sigma_mm / STEP_MM, mode="constant")
        value = gaussian_filter(np.where(known, self.height, 0.0), sigma_mm / STEP_MM, mode="constant")
        return np.where(weight > 0.05, value / np.maximum(weight, 1e-12), np.nan)

    def at(self, field: Floats, x: Floats, z: Floats) -> Floats:
        """Values of a field (r, c) on this grid between the grid lines (n,), linear."""
        rows, columns = (z - self.z[0]) / STEP_MM, (x - self.x[0]) / STEP_MM
        return np.asarray(map_coordinates(field, [rows, columns], order=1, mode="nearest"))


def depth_map(
    mesh: TriMesh, scan_to_face: Floats, half_width_mm: float, low_mm: float, high_mm: float
) -> DepthMap:
    """Look at the face from the front.

    Parameters
    ----------
    mesh : the scan, mm, of either winding.
    scan_to_face : (4, 4) rigid.
    half_width_mm, low_mm, high_mm : extent of the map in x and z.
    """
    x = np.arange(-np.ceil(half_width_mm), np.ceil(half_width_mm) + 0.5, STEP_MM)
    z = np.arange(np.floor(low_mm), np.ceil(high_mm) + 0.5, STEP_MM)
    q, normals = _front_samples(mesh, scan_to_face, float(x[-1]), float(z[0]), float(z[-1]))
    keep = (-normals[:, 1] > 0.02) & (-q[:, 1] > -90.0) & (-q[:, 1] < 60.0)
    q = q[keep]
    # 3 mm cells, 9 mm deep: eyeballs, mouth bags and the neck behind the chin are not what an eye would see.
    q = q[front_most(q[:, 0], q[:, 2], -q[:, 1], 3.0, 9.0)]
    height, trust = _spread(q, x, z)
    pits = _pits(height)
    return DepthMap(x, z, np.where(pits, np.nan, height), np.where(pits, 0.0, trust))


def _front_samples(
    mesh: TriMesh, scan_to_face: Floats, half: float, low: float, high: float
) -> tuple[Floats, Floats]:
    """Samples about 1 mm apart within the extent, in the face frame: points and outward normals."""
    rotation, shift = scan_to_face[:3, :3], scan_to_face[:3, 3]
    q = turned(mesh.vertices, rotation) + shift
    inside: Bools = (np.abs(q[:, 0]) < half + 6) & (q[:, 2] > low - 6) & (q[:, 2] < high + 6)
    inside &= np.abs(q[:, 1]) < 110.0
    faces = mesh.faces[:: max(1, len(mesh.faces) // MOST_FACES)]
    faces = faces[at_all_corners(inside, faces)]
    skin = sample_skin(mesh, 1.0, 45_000, faces, smooth=False)
    q, normals = skin.points @ rotation.T + shift, skin.normals @ rotation.T
    # The middle of the face tells the winding: nearly all of it is seen from the front.
    middle = (np.abs(q[:, 0]) < 40.0) & (np.abs(q[:, 2]) < 40.0) & (q[:, 1] < 40.0)
    return q, normals if normals[middle, 1].sum() <= 0 else -normals


def _pits(height: Floats) -> Bools:
    """Cells (r, c) at the bottom of narrow deep pits: looks through holes of the scan into the head."""
    wide = round(PIT_WIDTH_MM / STEP_MM)
    closed = grey_erosion(grey_dilation(np.nan_to_num(height, nan=-1e3), wide), wide)
    return np.asarray(np.nan_to_num(height, nan=-1e3) < closed - PIT_DEPTH_MM)


def _spread(q: Floats, x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Heights on the grid (r, c), samples shared among four cells and blurred narrowly and the weight."""
    rows, columns = len(z), len(x)
    column, row = (q[:, 0] - x[0]) / STEP_MM, (q[:, 2] - z[0]) / STEP_MM
    base_c, base_r = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    total, summed = np.zeros(rows * columns), np.zeros(rows * columns)
    for down in (0, 1):
        for right in (0, 1):
            r, c = base_r + down, base_c + right
            use = (r >= 0) & (r < rows) & (c >= 0) & (c < columns)
            weight = (1.0 - np.abs(row - r)[use]) * (1.0 - np.abs(column - c)[use])
            cell = r[use] * columns + c[use]
            total += np.bincount(cell, weight, minlength=len(total))
            summed += np.bincount(cell, -weight * q[use, 1], minlength=len(total))
    narrow = {"sigma": NARROW_MM / STEP_MM, "mode": "constant", "truncate": 3.0}
    weight = gaussian_filter(total.reshape(rows, columns), **narrow)
    value = gaussian_filter(summed.reshape(rows, columns), **narrow)
    known = weight > 0.08
    height = np.where(known, value / np.maximum(weight, 1e-12), np.nan)
    return height, np.where(known, weight, 0.0)

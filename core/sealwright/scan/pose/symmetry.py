"""The mirror plane of a face: mirrored samples laid on the skin until they fit best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...mesh import Floats
from .generic_face import edge_weight
from .sample import SkinSamples


@dataclass(frozen=True, eq=False)
class MirrorPlane:
    """The face frame turned and shifted so that x = 0 is the mirror plane.

    Attributes
    ----------
    rotation : (3, 3) scan to face axes, proper.
    shift_mm : (3,).
    asymmetry_mm : median distance between the mirrored skin and the skin; large where it is no face.
    paired : share of the samples that have a mirrored partner.
    """

    rotation: Floats
    shift_mm: Floats
    asymmetry_mm: float
    paired: float


def mirror_plane(
    samples: SkinSamples, rotation: Floats, shift: Floats, size: float, rounds: int = 9
) -> MirrorPlane:
    """Sharpen the mirror plane of an approximate face frame.

    Point-to-plane iteration between the skin and its mirror image over the plane's two angles and its offset
    (method: mirrored iterative closest point, common practice).

    Parameters
    ----------
    samples : skin seen from the front, normals outward.
    rotation, shift : approximate scan to face transform.
    size : size of the face over the generic one, which bounds the region used.
    """
    tree = cKDTree(samples.points)
    every = np.arange(0, len(samples.points), max(1, len(samples.points) // 3000))
    miss, weight, total = np.zeros(1), np.zeros(1), 1.0
    for step in range(rounds):
        q, n = samples.points @ rotation.T + shift, samples.normals @ rotation.T
        region = edge_weight(q[:, 0] / size, q[:, 2] / size)
        on = every[region[every] > 0.01]
        source, region = q[on], region[on]
        mirrored = source * np.array([-1.0, 1.0, 1.0])
        _, near = tree.query((mirrored - shift) @ rotation)
        target, normal = q[near], n[near]
        agree = np.einsum("ij,ij->i", n[on] * np.array([-1.0, 1.0, 1.0]), normal) > 0.6
        beside = np.linalg.norm(mirrored - target, axis=1) < 3.0 * samples.spacing_mm + 4.0
        miss = np.einsum("ij,ij->i", normal, mirrored - target)
        limit = max(1.5, 4.0 * 0.8**step)
        weight = region * (agree & beside) / (1.0 + (miss / limit) ** 2) ** 2
        total = float(region.sum())
        turn = _plane_step(source, normal, miss, weight)
        rotation, shift = _turned(rotation, shift, turn)
    good = weight > 0.02
    spread = float(np.median(np.abs(miss[good]))) if good.any() else 99.0
    return MirrorPlane(rotation, shift, spread, float(weight.sum() / max(total, 1e-9)))


def _plane_step(source: Floats, normal: Floats, miss: Floats, weight: Floats) -> Floats:
    """Least-squares change (a, b, d) of the plane with normal (1, a, b) and offset d."""
    jacobian = np.stack(
        [
            -2.0 * (source[:, 1] * normal[:, 0] + source[:, 0] * normal[:, 1]),
            -2.0 * (source[:, 2] * normal[:, 0] + source[:, 0] * normal[:, 2]),
            2.0 * normal[:, 0],
        ],
        axis=1,
    )
    left = jacobian.T @ (weight[:, None] * jacobian)
    left += np.diag(np.diag(left)) * 1e-6 + 1e-6 * np.eye(3)
    step = np.linalg.solve(left, -jacobian.T @ (weight * miss))
    return np.clip(step, [-0.15, -0.15, -5.0], [0.15, 0.15, 5.0])


def _turned(rotation: Floats, shift: Floats, step: Floats) -> tuple[Floats, Floats]:
    """The frame whose x axis is the new plane normal, keeping z as near as can be."""
    across = np.array([1.0, step[0], step[1]])
    across /= np.linalg.norm(across)
    up = np.array([0.0, 0.0, 1.0]) - across * across[2]
    up /= np.linalg.norm(up)
    change = np.stack([across, np.cross(up, across), up])
    moved = change @ shift
    moved[0] -= step[2]
    return change @ rotation, moved

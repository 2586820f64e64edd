"""Fit the generic face to a scan: which bump is the nose, which way is up, where exactly the face lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...mesh import Bools, Floats
from .generic_face import PRONASALE, edge_weight, generic_face
from .nose_candidates import NoseCandidates
from .sample import SkinSamples, front_most

TURNS = 24
"""Directions of "up" that are tried round the axis of a bump."""

SIZES = (0.82, 1.05)
"""Sizes of the face, over the generic one, that are tried first: a child's and an adult's."""

REACH_MM = 90.0
"""Skin within this distance of the nose tip takes part."""


@dataclass(frozen=True, eq=False)
class FaceFit:
    """The generic face laid on a scan.

    Attributes
    ----------
    rotation : (3, 3) proper, scan to face axes.
    shift_mm : (3,) so that face point = rotation @ scan point + shift.
    size : size of this face over the generic one.
    likeness : 0..1, share of the scan's relief that the generic face explains.
    misfit_mm : root mean square distance over the fitted skin.
    coverage : share of the generic face that has skin.
    """

    rotation: Floats
    shift_mm: Floats
    size: float
    likeness: float
    misfit_mm: float
    coverage: float

    @property
    def score(self) -> float:
        """0..1: likeness, less where most of the face is missing."""
        return self.likeness * min(1.0, self.coverage / 0.8)


@dataclass(frozen=True, eq=False)
class Start:
    """A first guess: rotation (3, 3) and shift (3,), scan to face, size and likeness."""

    rotation: Floats
    shift_mm: Floats
    size: float
    likeness: float


def skin_facing_out(samples: SkinSamples, tip: Floats, outward: Floats, flip: bool) -> Bools:
    """Samples within reach of a nose tip and on its side of the surface (n,)."""
    offset = samples.points - tip
    facing = samples.normals @ outward * (-1.0 if flip else 1.0)
    height = offset @ outward
    near = np.einsum("ij,ij->i", offset, offset) < REACH_MM**2
    return np.asarray(near & (facing > 0.15) & (height > -75.0))


def first_guesses(samples: SkinSamples, noses: NoseCandidates, index: int) -> tuple[Floats, list[Start]]:
    """Skin round one bump (n, 3) and the two likeliest turns there; none where there is hardly any skin."""
    near = skin_facing_out(
        samples, noses.tips[index], noses.outward[index], bool(noses.inward_winding[index])
    )
    points = samples.points[near]
    if len(points) < 60:
        return points, []
    return points, _best_turns(points, noses.tips[index], noses.outward[index])


def every_turn(tip: Floats, outward: Floats, points: Floats, turns: int = 12) -> list[Start]:
    """Starts at evenly spaced turns about ``outward``, each as it is and nodding either way by 25 degrees.

    For faces whose likeliest turns lead nowhere: a long nose, an open mouth.
    """
    right, up = _tangents(points - tip, outward)
    starts = []
    for angle in 2.0 * np.pi * np.arange(turns) / turns:
        turned = -np.sin(angle) * right + np.cos(angle) * up
        for nod in np.radians([-25.0, 0.0, 25.0]):
            rotation = _axes_from(np.cos(nod) * outward + np.sin(nod) * turned, turned)
            shift = np.array([PRONASALE[0], -PRONASALE[1], PRONASALE[2]]) - rotation @ tip
            starts.append(Start(rotation, shift, 1.0, 0.0))
    return starts


def thinned(points: Floats, at_most: int) -> Floats:
    """Every so many points, in order, so that about ``at_most`` are left."""
    return points[:: max(1, -(-len(points) // at_most))]


def _best_turns(points: Floats, tip: Floats, outward: Floats) -> list[Start]:
    """The two turns about ``outward``, well apart, at which the skin looks most like the generic face."""
    offset = points - tip
    right, up = _tangents(offset, outward)
    a, b, h = offset @ right, offset @ up, offset @ outward
    seen = front_most(a, b, h, 10.0, 25.0)
    a, b, h = (thinned(axis[seen], 220) for axis in (a, b, h))
    angles = 2.0 * np.pi * np.arange(TURNS) / TURNS
    x = np.cos(angles)[:, None] * a + np.sin(angles)[:, None] * b
    z = -np.sin(angles)[:, None] * a + np.cos(angles)[:, None] * b
    trials = [likeness_of(x / size, z / size, h / size) for size in SIZES]
    best_size = np.argmax([likeness for likeness, _ in trials], axis=0)
    likeness = np.max([likeness for likeness, _ in trials], axis=0)
    slope = np.stack([slope for _, slope in trials])[best_size, np.arange(TURNS)]
    first = int(np.argmax(likeness))
    apart = np.abs((np.arange(TURNS) - first + TURNS // 2) % TURNS - TURNS // 2) > 3
    second = int(np.argmax(np.where(apart, likeness, -1.0)))
    starts = []
    for best in (first, second):
        c, s = np.cos(angles[best]), np.sin(angles[best])
        rows = np.stack([c * right + s * up, -outward, -s * right + c * up])
        # h = slope . (x, z) + generic: undo the slope by tilting the axes by the same small angles.
        normal = -rows[1] - slope[best, 0] * rows[0] - slope[best, 1] * rows[2]
        rotation = _axes_from(normal, rows[2])
        size = SIZES[best_size[best]]
        shift = size * np.array([PRONASALE[0], -PRONASALE[1], PRONASALE[2]]) - rotation @ tip
        starts.append(Start(rotation, shift, size, float(likeness[best])))
    return starts


def _tangents(offset: Floats, outward: Floats) -> tuple[Floats, Floats]:
    """Two axes across ``outward``, taken from the spread of the points so that they move with the scan."""
    flat = offset - np.outer(offset @ outward, outward)
    _, vectors = np.linalg.eigh(flat.T @ flat)
    right = vectors[:, 2] - outward * (vectors[:, 2] @ outward)
    right = right / np.linalg.norm(right)
    # The longer tail gives the sign, so that it does not hang on the eigenvalue routine.
    right = right if np.sum((flat @ right) ** 3) >= 0 else -right
    return right, np.cross(outward, right)


def _axes_from(outward: Floats, up: Floats) -> Floats:
    """Rotation (3, 3) whose rows are left, back and up, with ``outward`` exact and ``up`` nearly."""
    back = -outward / np.linalg.norm(outward)
    across = np.cross(back, up)
    across /= np.linalg.norm(across)
    return np.stack([across, back, np.cross(across, back)])


def likeness_of(x: Floats, z: Floats, h: Floats) -> tuple[Floats, Floats]:
    """Partial correlation of skin and generic face beyond a curved trend, for each turn.

    Parameters
    ----------
    x, z : (t, n) places relative to the nose tip, mm.
    h : (n,) heights relative to the nose tip, mm.

    Returns
    -------
    likeness : (t,) between 0 and 1.
    slope : (t, 2) of the trend left when the generic face is taken away.
    """
    model = generic_face().quick_height(x + PRONASALE[0], z + PRONASALE[2]) - PRONASALE[1]
    weight = np.where(np.isnan(model), 0.0, edge_weight(x, z + PRONASALE[2]))
    model = np.nan_to_num(model)
    ones = np.ones_like(x)
    basis = np.stack([ones, x, z, x * x / 50.0, z * z / 50.0], axis=-1)
    skin = np.broadcast_to(h, x.shape)
    for _ in range(2):
        coefficients = _solve(basis, weight, np.stack([skin, model, skin - model], axis=-1))
        skin_detail = skin - np.einsum("tnk,tk->tn", basis, coefficients[..., 0])
        model_detail = model - np.einsum("tnk,tk->tn", basis, coefficients[..., 1])
        residual = skin_detail - model_detail
        robust = 1.0 / (1.0 + (residual / 8.0) ** 2) ** 2
        weight = np.where(weight > 0, edge_weight(x, z + PRONASALE[2]) * robust, 0.0)
    cross = np.einsum("tn,tn,tn->t", weight, skin_detail, model_detail)
    norm = np.einsum("tn,tn->t", weight, skin_detail**2) * np.einsum("tn,tn->t", weight, model_detail**2)
    correlation = cross / np.sqrt(np.maximum(norm, 1e-9))
    # Robust weights flatter a wrong fit, so what they threw away counts against it.
    kept = weight.sum(axis=1) / np.maximum(edge_weight(x, z + PRONASALE[2]).sum(axis=1), 1e-9)
    linear = _solve(basis[..., :3], weight, (skin - model)[..., None])[..., 0]
    return np.clip(correlation, 0.0, 1.0) * kept, linear[:, 1:3]


def _solve(basis: Floats, weight: Floats, values: Floats) -> Floats:
    """Weighted least squares for each turn: (t, n, k) basis, (t, n, v) values -> (t, k, v)."""
    weighted = basis * weight[..., None]
    size = basis.shape[-1]
    left = np.einsum("tni,tnj->tij", weighted, basis)
    left += 1e-6 * np.trace(left, axis1=1, axis2=2)[:, None, None] * np.eye(size) / size + 1e-9 * np.eye(size)
    return np.asarray(np.linalg.solve(left, np.einsum("tni,tnv->tiv", weighted, values)))

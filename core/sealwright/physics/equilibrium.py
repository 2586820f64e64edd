"""Six-degree equilibrium of a rigid body on one-sided springs: a convex energy, minimised by Newton steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import NotConverged, Where, plain_point
from ..mesh import Floats
from .foundation import Foundation
from .line_search import Ray, step_length
from .patch import ContactPatch, StrapPull

FARTHEST_MM = 200.0
"""A mask that has to travel farther than this to find its balance has left the face."""


MOST_STEPS = 200
"""Newton steps; a convex energy of six motions needs a few dozen at most."""


@dataclass(frozen=True, eq=False)
class Wrench:
    """Everything that pulls on the mask as one wrench: a force, and a moment about the centre of the band.

    Attributes
    ----------
    force_n : (3,) N.
    moment_nmm : (3,) N mm about `ContactPatch.centre`.
    """

    force_n: Floats
    moment_nmm: Floats

    def scaled(self, factor: float) -> Wrench:
        """The same wrench, a factor larger."""
        return Wrench(self.force_n * factor, self.moment_nmm * factor)

    def plus(self, other: Wrench) -> Wrench:
        """The sum of both wrenches."""
        return Wrench(self.force_n + other.force_n, self.moment_nmm + other.moment_nmm)


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """A balanced mask.

    Attributes
    ----------
    shift_mm, turn_rad : (3,), small rigid motion of the mask about the centre of the band.
    gap_mm : (n,) distance skin to mask after the motion; negative where skin and soft layer are pressed in.
    pressure : (n,) N/mm2, never negative.
    slide_mm : (n, 3), how far the mask moved along the skin since it touched.
    iterations : Newton steps taken.
    residual : largest unbalanced force, and moment over reach, as a share of the load.
    work_residual : difference of inner and outer virtual work over the motion, as a share of the outer.
    """

    shift_mm: Floats
    turn_rad: Floats
    gap_mm: Floats
    pressure: Floats
    slide_mm: Floats
    iterations: int
    residual: float
    work_residual: float

    @property
    def motion(self) -> Floats:
        """Shift (mm) and turn (rad) as one vector (6,)."""
        return np.concatenate([self.shift_mm, self.turn_rad])


def resultant_wrench(pulls: Sequence[StrapPull], about: Floats) -> Wrench:
    """Resultant of strap pulls: force (3,) N and moment (3,) N mm about a point (3,) mm."""
    force, moment = np.zeros(3), np.zeros(3)
    for pull in pulls:
        one = pull.tension_n * pull.direction
        force += one
        moment += np.cross(pull.point - about, one)
    return Wrench(force, moment)


def shear_matrix(normal_jacobian: Floats, point_jacobian: Floats, weight: Floats) -> Floats:
    """Stiffness (6, 6) against sliding: springs of ``weight`` (n,) N/mm in the tangent planes."""
    flat = (point_jacobian * weight[:, None, None]).reshape(-1, 6)
    return np.asarray(
        point_jacobian.reshape(-1, 6).T @ flat - normal_jacobian.T @ (normal_jacobian * weight[:, None])
    )


def solve_equilibrium(
    patch: ContactPatch,
    foundation: Foundation,
    load: Wrench,
    start: Floats | None = None,
    anchor: Floats | None = None,
    tolerance: float = 1e-9,
) -> Equilibrium:
    """Find the pose in which springs and straps balance.

    Minimises U(q) = sum 1/2 k A max(0, -(gap + J q))^2 + 1/2 (q - a) S (q - a) - w q over the six motions q,
    with J the normal contact Jacobian and w the wrench: convex, so there is one lowest energy. Newton steps
    with the active springs, exact line search along each.

    Parameters
    ----------
    patch, foundation : the band and its springs.
    load : wrench about the band's centre.
    start : (6,) motion to begin from (three shifts in mm, three turns in rad).
    anchor : (6,) motion at which the skin does not yet hold sideways (default: none at the designed pose).
    tolerance : wanted share of unbalanced load.

    Raises
    ------
    NotConverged : no load, a pull that leads away from the face or tips the mask off, or no balance found.
    """
    reach = patch.reach_mm
    normal_jacobian, point_jacobian = patch.contact_jacobians
    pull = np.concatenate([load.force_n, load.moment_nmm / reach])
    size = float(np.linalg.norm(pull))
    if size <= 0.0:
        raise _unbalanced(patch, "no strap pulls on the mask", "Give the straps a tension above 0 N.")
    weight = foundation.normal * patch.areas
    shear = shear_matrix(normal_jacobian, point_jacobian, foundation.shear * patch.areas)
    scale = np.r_[np.ones(3), np.full(3, reach)]
    held = np.zeros(6) if anchor is None else anchor * scale
    motion = held.copy() if start is None else start * scale
    for step in range(MOST_STEPS):
        gap = patch.gap_mm + normal_jacobian @ motion
        squeeze = np.maximum(0.0, -gap) * weight
        unbalanced = shear @ (motion - held) - normal_jacobian.T @ squeeze - pull
        if np.abs(unbalanced).max() <= tolerance * size:
            return _finish(patch, foundation, motion, held, unbalanced, pull, step)
        direction = _newton_direction(normal_jacobian, weight, gap, shear, unbalanced, size)
        ray = Ray(gap, normal_jacobian @ direction, weight, float(direction @ shear @ direction))
        motion = motion + _advance(patch, ray, float(unbalanced @ direction), direction, motion) * direction
    raise _unbalanced(
        patch, f"no balance was found in {MOST_STEPS} steps", "Check gaps and stiffness of the band."
    )


def _newton_direction(
    normal_jacobian: Floats, weight: Floats, gap: Floats, shear: Floats, unbalanced: Floats, size: float
) -> Floats:
    """Newton step of the active springs; straight down the energy where they give no hold."""
    active = gap < 0.0
    held = normal_jacobian[active]
    stiffness = held.T @ (held * weight[active, None]) + shear
    values, vectors = np.linalg.eigh(stiffness)
    part = vectors.T @ unbalanced
    # Motions that no spring resists (sliding on a plane) must not drift on rounding errors.
    part[np.abs(part) < 1e-13 * size] = 0.0
    floor = 1e-9 * max(float(values[-1]), 1e-9 * float(weight.sum()))
    return -np.asarray(vectors @ (part / np.maximum(values, floor)))


def _advance(patch: ContactPatch, ray: Ray, slope: float, direction: Floats, motion: Floats) -> float:
    """Length of the step, or the reason why there is none."""
    farthest = FARTHEST_MM / max(float(np.linalg.norm(direction)), 1e-12)
    length = step_length(ray, slope, farthest)
    gap = ray.gap + length * ray.rate
    if length >= farthest or np.linalg.norm(motion + length * direction) > FARTHEST_MM:
        if np.any(gap < 0.0):
            raise _unbalanced(
                patch,
                "the pull tips or slides the mask off the face",
                "Move the lugs nearer to the middle of the band, or turn the straps more towards the back "
                "of the head.",
            )
        raise _unbalanced(
            patch,
            "the pull leads away from the face and nothing touches",
            "Turn the straps towards the back of the head.",
        )
    return length


def _finish(
    patch: ContactPatch,
    foundation: Foundation,
    motion: Floats,
    held: Floats,
    unbalanced: Floats,
    pull: Floats,
    steps: int,
) -> Equilibrium:
    normal_jacobian, point_jacobian = patch.contact_jacobians
    gap = patch.gap_mm + normal_jacobian @ motion
    slide = (point_jacobian.reshape(-1, 6) @ (motion - held)).reshape(-1, 3)
    slide -= np.einsum("ij,ij->i", patch.normals, slide)[:, None] * patch.normals
    work = abs(float(pull @ motion))
    return Equilibrium(
        motion[:3].copy(),
        motion[3:] / patch.reach_mm,
        gap,
        foundation.normal * np.maximum(0.0, -gap),
        slide,
        steps,
        float(np.abs(unbalanced).max() / np.linalg.norm(pull)),
        abs(float(unbalanced @ motion)) / work if work > 0.0 else 0.0,
    )


def _unbalanced(patch: ContactPatch, why: str, fix: str) -> NotConverged:
    return NotConverged(
        f"The mask finds no balance on the face: {why}.",
        Where("straps", point=plain_point(patch.centre)),
        fix,
    )

"""The print copy of a part: larger by what the material shrinks, thinner by what a coating adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, first_point
from ..hardware.allowance import AllowanceSettings, shrinkage_of
from ..mesh import Floats, TriMesh
from ..solids.soundness import soundness_of

_LONGEST_STEP = 3.0  # a sharp edge moves at most this many coatings


@dataclass(frozen=True)
class Allowances:
    """What is applied to a print copy.

    Attributes
    ----------
    shrink_percent : expected linear shrinkage along the bed's axes.
    scale : factors along the bed's axes, 1 / (1 - shrinkage).
    coating_mm : thickness taken off everywhere.
    source : where the shrinkage comes from, and how sure it is.
    """

    shrink_percent: tuple[float, float, float]
    scale: tuple[float, float, float]
    coating_mm: float
    source: str


def allowances_of(material: str, settings: AllowanceSettings) -> Allowances:
    """The allowances of a print copy in a material (key of the materials table).

    Raises
    ------
    BadRecipe : no such material.
    """
    shrinkage = shrinkage_of(settings, material)
    thinner = settings.coating_mm if settings.coating_room == "everywhere" else 0.0
    return Allowances(shrinkage.percent, shrinkage.print_scale, thinner, shrinkage.source)


def print_copy(mesh: TriMesh, orientation: Floats, allowances: Allowances, role: str) -> TriMesh:
    """The part as it is sent to the printer, still in its own frame.

    Parameters
    ----------
    mesh : closed part, mm.
    orientation : 4x4 that turns the part as it prints: the scales are along the bed's axes.

    Raises
    ------
    DoesNotFit : the coating is too thick for small details of the part.
    """
    if allowances.coating_mm > 0:
        mesh = _thinned(mesh, allowances.coating_mm, role)
    turn = orientation[:3, :3]
    transform = np.eye(4)
    transform[:3, :3] = turn.T @ np.diag(allowances.scale) @ turn
    return mesh.moved(transform)


def _thinned(mesh: TriMesh, coating_mm: float, role: str) -> TriMesh:
    """The part with every face moved inwards by the coating."""
    moved = TriMesh(mesh.vertices + _inward_steps(mesh) * coating_mm, mesh.faces)
    found = soundness_of(moved, role)
    if found.crossings or found.volume_mm3 <= 0:
        raise DoesNotFit(
            f"A coating of {coating_mm:g} mm is too thick for details of the {role}.",
            Where(role, point=first_point(found.places_mm)),
            "Let the mating surfaces make room for the coating (coating_room).",
        )
    return moved


def _inward_steps(mesh: TriMesh) -> Floats:
    """Steps (n, 3) of vertices that move all faces around them inwards by one, as nearly as possible.

    Least squares over the planes around a vertex: (sum w n n^T) d = -sum w n.
    """
    normals, weights = mesh.face_normals, mesh.face_areas
    products = np.einsum("f,fi,fj->fij", weights, normals, normals).reshape(-1, 9)
    matrix = np.zeros((len(mesh.vertices), 9))
    right = np.zeros((len(mesh.vertices), 3))
    for corner in range(3):
        index = mesh.faces[:, corner]
        for k in range(9):
            matrix[:, k] += np.bincount(index, products[:, k], minlength=len(matrix))
        for k in range(3):
            right[:, k] += np.bincount(index, weights * normals[:, k], minlength=len(right))
    square = matrix.reshape(-1, 3, 3)
    size = np.maximum(np.trace(square, axis1=1, axis2=2), 1e-12)
    # A little of the identity: on a plane or edge the step along it is free and should be none.
    square = square / size[:, None, None] + 1e-4 * np.eye(3)
    step = -np.linalg.solve(square, (right / size[:, None])[..., None])[..., 0]
    length = np.linalg.norm(step, axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, _LONGEST_STEP / np.maximum(length, 1e-12)))

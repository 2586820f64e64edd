"""Which reference lies in the scan and where: words of the maker made into a size and a marked patch."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from ...errors import BadRecipe, ImplausibleSize, Remark, UnreadableFile, Where
from ...files import contents
from ...mesh import Floats, TriMesh
from ..repair.edge_graph import face_neighbours
from .reference_object import CARD, FlatReference, ReferenceFit, fit_reference, patch_points
from .scale import LARGEST_MM, SMALLEST_MM, longest_extent

LEAST_SIDE_MM = 20.0
"""Shorter sides are lost in the noise of a scan (common practice, no source)."""

MOST_SIDE_MM = 1000.0
"""Longer than any head with shoulders."""

REACH = 1.5
"""Round a place near the middle of an object, its patch is sought to this many of its half diagonals."""

TILT_DEG = 30.0
"""Triangles that lean more than this from the plane of the patch are its rim or its surroundings."""

OFF_SHARE = 0.03
"""Triangles farther than this share of the radius from the plane of the patch are not on it."""


def reference_named(text: str) -> FlatReference:
    """The reference that is called "card", or "LONGxSHORT" in mm for a box or a piece of tape.

    Raises
    ------
    BadRecipe : neither of these, or sides under 20 mm.
    """
    if text.strip().lower() == "card":
        return CARD
    try:
        sides = [float(side) for side in text.lower().split("x")]
    except ValueError:
        sides = []
    if len(sides) != 2 or not all(LEAST_SIDE_MM <= side < MOST_SIDE_MM for side in sides):
        raise BadRecipe(
            f"{text[:60]!r} is no reference object.",
            Where("reference object", key="--reference"),
            f"Say card, or both sides in mm such as 120x80, each at least {LEAST_SIDE_MM:g} mm.",
        )
    return rectangle(*sides)


def rectangle(first_mm: float, second_mm: float) -> FlatReference:
    """A box's face or a piece of tape with these sides."""
    short, long = sorted((first_mm, second_mm))
    return FlatReference(f"{long:g} x {short:g} mm face", long, short)


def marked_patch(mesh: TriMesh, text: str) -> NDArray[np.int64]:
    """Triangles (k,) of a patch that is marked by "x,y,z,radius" or by a JSON file of triangle numbers.

    Parameters
    ----------
    mesh : the scan, file units; triangles are numbered from 0 as in its file.
    text : a place on the object with a radius that reaches past its corners, file units; or a file name.

    Raises
    ------
    BadRecipe : neither of these.
    UnreadableFile : the file cannot be read, or holds no list of triangle numbers.
    ImplausibleSize : no flat patch of the scan lies there.
    """
    numbers = _numbers(text)
    if numbers is not None:
        return flat_patch(mesh, numbers[:3], float(numbers[3]))
    path = Path(text)
    if path.suffix.lower() != ".json":
        raise BadRecipe(
            f"{text[:60]!r} marks no patch.",
            Where("reference object", key="--reference-patch"),
            "Give x,y,z,radius in scan coordinates, or a JSON file with a list of triangle numbers.",
        )
    try:
        found = json.loads(contents(path, "file of the patch").decode("utf-8-sig"))
        if not isinstance(found, list) or not all(type(number) is int for number in found):
            raise ValueError("no list of whole numbers")
        return np.array(found, dtype=np.int64)
    except (OSError, ValueError, OverflowError, RecursionError) as error:
        raise UnreadableFile(
            f"The patch cannot be read: {getattr(error, 'strerror', None) or error}.",
            Where("reference object", key=path.name),
            "Give a JSON file that holds one list of triangle numbers, such as [12, 13, 40].",
        ) from error


def _numbers(text: str) -> Floats | None:
    try:
        numbers = np.array([float(word) for word in text.split(",")])
    except ValueError:
        return None
    return numbers if len(numbers) == 4 and np.isfinite(numbers).all() and numbers[3] > 0 else None


def flat_patch(mesh: TriMesh, point: Floats, radius: float) -> NDArray[np.int64]:
    """Triangles (k,) of the flat patch at a point: connected, level with the plane there, within the radius.

    Parameters
    ----------
    mesh : the scan, file units.
    point : (3,) on the object, not near its rim.
    radius : reaches past the farthest corner of the object, file units.

    Raises
    ------
    ImplausibleSize : nothing flat lies there.
    """
    centres = mesh.corners.mean(axis=1)
    away = np.linalg.norm(centres - point, axis=1)
    near = np.flatnonzero(away < 0.3 * radius)
    if len(near) < 12:
        raise _nothing(f"Only {len(near)} triangles lie within {0.3 * radius:.4g} units of the marked place.")
    middle = np.median(centres[near], axis=0)
    normal = np.linalg.svd(centres[near] - middle, full_matrices=False)[2][2]
    normals = mesh.face_normals
    for _ in range(3):  # again from what is level: the first plane may hold a finger or an edge
        off = np.abs((centres - middle) @ normal)
        level = (np.abs(normals @ normal) > np.cos(np.radians(TILT_DEG))) & (off < OFF_SHARE * radius)
        chosen = near[level[near]]
        if len(chosen) < 8:
            raise _nothing("The scan is not flat at the marked place.")
        middle = centres[chosen].mean(axis=0)
        normal = np.linalg.svd(centres[chosen] - middle, full_matrices=False)[2][2]
    level &= away < radius
    first, second, _ = face_neighbours(mesh.faces)
    both = level[first] & level[second]
    count = len(mesh.faces)
    linked = csr_matrix((np.ones(int(both.sum()), np.int8), (first[both], second[both])), (count, count))
    _, piece = connected_components(linked, directed=False)
    seed = chosen[np.argmin(away[chosen])]
    return np.flatnonzero(level & (piece == piece[seed]))


def object_patch(
    mesh: TriMesh, point: Floats, wanted: FlatReference, mm_per_unit: float
) -> NDArray[np.int64]:
    """Triangles (k,) of the flat patch at a point near the middle of an object of known size.

    Parameters
    ----------
    mesh : the scan, file units.
    point : (3,) on the object.
    wanted : the object.
    mm_per_unit : the scale as far as it is known, to 20 % or so.

    Raises
    ------
    ImplausibleSize : nothing flat lies there, or it is larger than the object, as a table is.
    """
    radius = REACH * 0.5 * float(np.hypot(wanted.long_mm, wanted.short_mm)) / mm_per_unit
    chosen = flat_patch(mesh, point, radius)
    away = np.linalg.norm(mesh.corners[chosen].reshape(-1, 3) - point, axis=1)
    if away.max() > 0.97 * radius:
        raise ImplausibleSize(
            f"The flat place is larger than the {wanted.name}: it reaches {away.max() * mm_per_unit:.0f} mm.",
            Where("reference object", key=wanted.name),
            "Select the triangles of the object itself, or check the unit of the scan first.",
        )
    return chosen


def reference_in_scan(mesh: TriMesh, reference: str, patch: str) -> ReferenceFit:
    """The fit of a named reference to a patch that is marked in words; see `measured_reference`.

    Raises
    ------
    DesignError : the words, the patch or the fit is refused.
    """
    wanted = reference_named(reference)
    return measured_reference(mesh, marked_patch(mesh, patch), wanted)


def measured_reference(mesh: TriMesh, faces: NDArray[np.int64], wanted: FlatReference) -> ReferenceFit:
    """The fit of a reference to a marked patch; its scale carries a note with what was measured.

    Parameters
    ----------
    mesh : the scan, file units.
    faces : (k,) triangles of the whole flat face of the object.
    wanted : its true size.

    Raises
    ------
    ImplausibleSize : the fit is refused, or with its scale the scan could be no face.
    """
    fit = fit_reference(patch_points(mesh, faces), wanted)
    extent = longest_extent(mesh) * fit.scale.mm_per_unit
    if not SMALLEST_MM <= extent <= LARGEST_MM:
        raise _nothing(f"With this {wanted.name} the scan would be {extent:.0f} mm long.")
    text = (
        f"The {wanted.name} in the scan measures {fit.long_units:.5g} x {fit.short_units:.5g} units and "
        f"gives {fit.scale.mm_per_unit:.5g} mm per unit; its sides differ by "
        f"{100 * fit.distortion:+.2f} % (standard error {100 * fit.uncertainty:.2f} %), and it is flat "
        f"within {fit.flatness_mm:.2f} mm."
    )
    said = Remark("note", text, Where("reference object", key=wanted.name))
    return replace(fit, scale=replace(fit.scale, remarks=(said, *fit.scale.remarks)))


def _nothing(what: str) -> ImplausibleSize:
    return ImplausibleSize(
        what,
        Where("reference object", key="--reference-patch"),
        "Mark a place in the middle of the object, with a radius that reaches past its corners.",
    )

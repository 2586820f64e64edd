"""What cannot be right about a wearer's scan: a child's face, a stretch, an open mouth, two people."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..anthropometry.proportions import AxisStretch, distances_of, worst_stretch
from ..errors import NotForChildren, Where, plain_point
from ..limits import limit
from ..mesh import Floats, TriMesh
from ..scan.landmarks.depth_map import DepthMap, depth_map
from ..scan.landmarks.face_size import USUAL_FACE_MM
from ..scan.landmarks.landmark_set import Landmarks
from ..scan.plausible.mouth import Mouth, mouth_of
from ..scan.plausible.second_face import SecondFace, second_face
from ..scan.plausible.stretch import stretch_of
from ..scan.pose.pose import Pose

GENERIC_FACE_MM = 114.0
"""Sellion to menton of the generic face of the pose (111 mm on open heads, 120 on invented ones): its size
times this is a second opinion on the length of a face that does not hang on two landmarks."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Plausible:
    """What was looked at before anything is designed.

    Attributes
    ----------
    face_length_mm : sellion to menton, from the landmarks and from the size of the whole face.
    adult_said : the maker says that a very small face is an adult's.
    stretch : along the axis where the proportions are least usual.
    mouth : lips apart, or a smile.
    second_face : another face in the scan, or None.
    """

    face_length_mm: float
    adult_said: bool
    stretch: AxisStretch
    mouth: Mouth
    second_face: SecondFace | None


def plausible_of(
    whole: TriMesh, mesh: TriMesh, pose: Pose, marks: Landmarks, *, wearer_scale: float, adult: bool
) -> Plausible:
    """Look at what cannot be right.

    Parameters
    ----------
    whole : the scan with all that is in it, mm.
    mesh : the face of it, outward, mm.
    pose, marks : of the face, scan frame.
    wearer_scale : factor that the maker puts on the face.
    adult : the maker says that the wearer is an adult.

    Raises
    ------
    NotForChildren : the face is smaller than any adult's, and nobody says that it is one's.
    """
    found = look_at(whole, mesh, pose, marks, adult=adult)
    length = wearer_scale * found.face_length_mm
    if not adult:
        _require_adult(length, marks.point("subnasale"))
    return replace(found, face_length_mm=length)


def look_at(whole: TriMesh, mesh: TriMesh, pose: Pose, marks: Landmarks, *, adult: bool) -> Plausible:
    """The same at the size of the scan, without stopping at a child's face."""
    size = pose.size
    depth = depth_map(mesh, pose.scan_to_face, 60.0 * size, -90.0 * size, 84.0 * size)
    points = {name: mark.point for name, mark in marks.by_name.items()}
    sure = {name: mark.confidence for name, mark in marks.by_name.items()}
    return Plausible(
        face_length_mm=_face_length(points, sure, size),
        adult_said=adult,
        stretch=worst_stretch(_measures(points, depth, size), {**sure, "pose": pose.confidence}),
        mouth=mouth_of(depth, marks, pose),
        second_face=second_face(whole, pose),
    )


def measures_of_face(mesh: TriMesh, pose: Pose, marks: Landmarks) -> dict[str, float]:
    """What proportions are judged by: distances between landmarks, mm, and sizes of the relief."""
    size = pose.size
    depth = depth_map(mesh, pose.scan_to_face, 60.0 * size, -90.0 * size, 84.0 * size)
    return _measures({name: mark.point for name, mark in marks.by_name.items()}, depth, size)


def _measures(points: Mapping[str, Floats], depth: DepthMap, size: float) -> dict[str, float]:
    relief = stretch_of(depth, size)
    sizes = {"across": relief.across, "deep": relief.deep, "upright": relief.upright}
    return distances_of(points) | {f"relief_{axis}": value for axis, value in sizes.items()}


def _face_length(points: Mapping[str, Floats], sure: Mapping[str, float], size: float) -> float:
    """Sellion to menton: the landmarks as far as they are sure, and the size of the face, alike at best."""
    marked = float(np.linalg.norm(points["sellion"] - points["menton"]))
    weight = min(sure["sellion"], sure["menton"])
    return (weight * marked + GENERIC_FACE_MM * size) / (weight + 1.0)


def _require_adult(length_mm: float, subnasale: Floats) -> None:
    """Stop at a face no adult has."""
    least = limit("adult_face_stop")
    if length_mm >= least.value:
        return
    raise NotForChildren(
        f"This face is {length_mm:.0f} mm long from nose root to chin; adults' are {least.value:.0f} mm and "
        f"more (usual {USUAL_FACE_MM:.0f} mm). These masks are not for children.",
        Where("scan", plain_point(subnasale), "scan"),
        "Check the unit or measure a known length if the scan came out too small; only for an adult with so "
        "small a face say so (--adult, or the tick box of the wearer), which the report repeats.",
    )

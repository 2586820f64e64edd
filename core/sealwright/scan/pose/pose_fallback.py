"""Pose of a face from points that the maker gives, where it is not found by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from ...errors import LandmarkMissing, Remark, Where, plain_point
from ...mesh import Floats, TriMesh
from ..landmark_names import DEFINITIONS
from .face_fit import Start
from .loose_pieces import loose_pieces_marked
from .pose import Pose
from .visible_skin import inside_out_remark, pose_of_fit, sharpened

# Places on the generic face, mm: x to the wearer's left, y back, z up, origin at subnasale (from the
# same open head models as the generic face).
USUAL_PLACE: dict[str, tuple[float, float, float]] = {
    "glabella": (0.0, 9.0, 66.0),
    "sellion": (0.0, 9.0, 49.0),
    "pronasale": (0.0, -15.0, 16.0),
    "subnasale": (0.0, 0.0, 0.0),
    "stomion": (0.0, 1.0, -20.0),
    "supramenton": (0.0, 5.0, -38.0),
    "pogonion": (0.0, 3.0, -52.0),
    "menton": (0.0, 9.0, -64.0),
    "alare_left": (17.5, 5.0, 7.0),
    "alare_right": (-17.5, 5.0, 7.0),
    "subalare_left": (12.5, 6.5, 1.0),
    "subalare_right": (-12.5, 6.5, 1.0),
    "cheilion_left": (25.0, 13.0, -22.0),
    "cheilion_right": (-25.0, 13.0, -22.0),
    "endocanthion_left": (17.0, 24.0, 45.5),
    "endocanthion_right": (-17.0, 24.0, 45.5),
    "exocanthion_left": (43.5, 29.0, 47.0),
    "exocanthion_right": (-43.5, 29.0, 47.0),
}


def pose_from_three(mesh_mm: TriMesh, left_eye: ArrayLike, right_eye: ArrayLike, nose_tip: ArrayLike) -> Pose:
    """Pose from three clicks: outer corner of the wearer's left eye, of the right eye, and nose tip.

    Parameters
    ----------
    mesh_mm : the scan, mm.
    left_eye, right_eye, nose_tip : (3,) mm, scan coordinates.

    Raises
    ------
    LandmarkMissing : points that are no numbers, too close, or in a line.
    """
    points = {"exocanthion_left": left_eye, "exocanthion_right": right_eye, "pronasale": nose_tip}
    return pose_from_points(mesh_mm, points)


def pose_from_landmarks(mesh_mm: TriMesh, points: Mapping[str, ArrayLike]) -> Pose | None:
    """Pose from whatever landmarks the maker gave; None where they are too few or too much in a line for it.

    For arguments and errors see `pose_from_points`.
    """
    known = [name for name in points if name in USUAL_PLACE]
    if len(known) < 3 or all(USUAL_PLACE[name][0] == 0.0 for name in known):
        return None
    return pose_from_points(mesh_mm, points)


def pose_from_points(mesh_mm: TriMesh, points: Mapping[str, ArrayLike]) -> Pose:
    """Pose from at least three named landmarks, by laying the generic face on them.

    Where the skin round them then looks like a face, the pose is sharpened on it.

    Parameters
    ----------
    mesh_mm : the scan, mm; its winding near the points tells whether it faces inward.
    points : name -> (3,) mm, scan coordinates.

    Raises
    ------
    LandmarkMissing : unknown names, fewer than three points, no numbers, in a line, or of inhuman size.
    """
    names = sorted(points)
    unknown = [name for name in names if name not in DEFINITIONS]
    if unknown or len(names) < 3:
        raise LandmarkMissing(
            f"{len(names)} landmarks were given, unknown among them: {', '.join(unknown) or 'none'}.",
            Where("scan", key=", ".join(unknown), frame="scan"),
            "Give at least three of: " + ", ".join(DEFINITIONS) + ".",
        )
    scan = np.array([np.asarray(points[name], dtype=np.float64).reshape(-1) for name in names])
    if scan.shape[1] != 3 or not np.isfinite(scan).all():
        raise LandmarkMissing(
            "A given landmark is not three numbers.",
            Where("scan", key=", ".join(names), frame="scan"),
            "Give x, y, z in scan coordinates.",
        )
    rotation, shift, size = _similarity(scan, np.array([USUAL_PLACE[name] for name in names]), names)
    return loose_pieces_marked(_pose(mesh_mm, scan, rotation, shift, size), mesh_mm)


def _similarity(scan: Floats, usual: Floats, names: list[str]) -> tuple[Floats, Floats, float]:
    """Rotation, shift and size that lay the generic places on the given ones (Kabsch and Umeyama)."""
    a, b = scan - scan.mean(axis=0), usual - usual.mean(axis=0)
    s = np.linalg.svd(b.T @ a, compute_uv=False)
    where = Where("scan", key=", ".join(names), frame="scan")
    if s[1] < 0.02 * s[0] or np.linalg.svd(a, compute_uv=False)[1] < 8.0:
        raise LandmarkMissing(
            "The given landmarks lie in a line or on one spot.",
            where,
            "Give points spread over the face, for example both outer eye corners and the nose tip.",
        )
    rotation = Rotation.align_vectors(b, a)[0].as_matrix()
    size = float(np.linalg.norm(a) / np.linalg.norm(b))
    miss = np.linalg.norm(a @ rotation.T / size - b, axis=1).max()
    if not 0.6 < size < 1.5 or miss > 20.0:
        raise LandmarkMissing(
            f"The given landmarks fit no human face: size {size:.2f} of the usual one, worst point "
            f"{miss:.0f} mm off. Left and right are the wearer's.",
            where,
            "Check names, sides and unit of the points.",
        )
    return rotation, usual.mean(axis=0) * size - rotation @ scan.mean(axis=0), size


def _pose(mesh: TriMesh, scan: Floats, rotation: Floats, shift: Floats, size: float) -> Pose:
    """The pose, sharpened on the skin where that agrees with the points."""
    inward = _faces_inward(mesh, scan, rotation)
    given = Remark("note", "The pose was taken from given points.", Where("scan", frame="scan"))
    fine = sharpened(mesh, Start(rotation, shift, size, 1.0), inward)
    if fine is not None and fine[0].likeness > 0.5 and _agree(fine[0].rotation, rotation):
        pose = pose_of_fit(*fine, inward)
        return replace(pose, confidence=max(pose.confidence, 0.5), remarks=(given, *pose.remarks))
    transform = np.eye(4)
    transform[:3, :3], transform[:3, 3] = rotation, shift
    remarks = (given, inside_out_remark()) if inward else (given,)
    why = ("the skin round the given points looks unlike a face",)
    return Pose(transform, size, 0.5, inward, 0.0, 0.0, 0.0, 0.0, why, remarks)


def _agree(fitted: Floats, given: Floats) -> bool:
    """Whether two rotations differ by less than 20 degrees, about what careless clicks can do."""
    return bool(np.trace(fitted @ given.T) > 1.0 + 2.0 * np.cos(np.radians(20.0)))


def _faces_inward(mesh: TriMesh, scan: Floats, rotation: Floats) -> bool:
    """Whether the triangles within 15 mm of the points face into the head."""
    centres = mesh.vertices[mesh.faces[:, 0]]
    near = np.zeros(len(centres), dtype=bool)
    for point in scan:
        near |= np.einsum("ij,ij->i", centres - point, centres - point) < 15.0**2
    if not near.any():
        raise LandmarkMissing(
            "No skin lies near the given landmarks.",
            Where("scan", point=plain_point(scan[0]), frame="scan"),
            "Give the points in the coordinates and the unit of the scan.",
        )
    return bool((mesh.face_vectors[near] @ rotation[1]).sum() > 0)

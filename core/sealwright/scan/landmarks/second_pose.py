"""A second scan of the same wearer, mouth open or smiling, laid on the first by the parts that stay still."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from ...errors import NotAFace, Remark, Where
from ...limits import limit
from ...mesh import Bools, Floats, Ints, TriMesh, at_all_corners
from ..pose.face_refine import rotation_of
from ..pose.sample import SkinSamples, sample_skin
from .face_frame import face_frame
from .landmark_set import Landmarks

ROUNDS = 30

LEAST_STILL_MM2 = 2000.0
"""Half of the area of forehead and nose bridge that is looked at, on a usual face."""

STILL_LIMIT_MM = 1.5
"""Farther apart than this, two places of the still parts do not fit: the error of a poor phone scanner
(docs/standards section 8: 0.46 to 1.4 mm)."""

_FOREHEAD_MM, _FOREHEAD_HALF_MM = (18.0, 55.0), 45.0
"""Over the nose root on a usual face: above the brows, to below the hair; and half its width."""

_GLABELLA_MM, _GLABELLA_HALF_MM = (0.0, 40.0), 12.0  # between the brows, whose inner ends move
_BRIDGE_MM, _BRIDGE_HALF_MM = (-24.0, 0.0), 13.0  # the bony half of the nose
_BEHIND_MM = 45.0  # of the nose root: further back lies hair
_REACH_MM = 95.0  # round the origin of the face frame: all of these
_FACING = 0.2  # cosine to the front: skin that is seen edge-on lies worse
_SPACING_MM = (1.5, 1.2)  # of the samples of the first scan, and of the finer ones of the second
_MOST_SAMPLES = (40_000, 60_000)
_COARSE_MM, _FINE_MM, _SHRINK = 6.0, 1.0, 0.8  # reach of the weights at first, at last, and from step to step
_BESIDE = 2.5  # spacings sideways beyond which no skin lies there
_MOST_TURN_RAD, _MOST_SHIFT_MM = 0.1, 5.0  # in one step
_UNKNOWN_MM = 99.0  # told as the misfit where nothing lies on anything


@dataclass(frozen=True, eq=False)
class SecondPose:
    """Where the second scan lies over the first.

    Attributes
    ----------
    second_to_first : (4, 4) rigid, scan mm of the second to scan mm of the first.
    still_rms_mm : root mean square distance of the still parts after aligning.
    still_share : share of the still parts of the first scan on which the second lies within 1.5 mm.
    still_p90_mm : within so much of the second scan lie 90 % of the still parts that it covers.
    nose_apart_mm : largest distance between nose landmarks of the two, which no expression moves far.
    remarks : what the maker should know.
    """

    second_to_first: Floats
    still_rms_mm: float
    still_share: float
    still_p90_mm: float
    nose_apart_mm: float
    remarks: tuple[Remark, ...]


def align_second_pose(
    first: TriMesh, first_marks: Landmarks, second: TriMesh, second_marks: Landmarks
) -> SecondPose:
    """Lay a second scan on the first by forehead and nose bridge.

    The landmarks give a start; point-to-plane iteration over the still parts alone sharpens it (iterative
    closest point, common practice), so that what the jaw and the lips do cannot pull on the result.

    Parameters
    ----------
    first, second : scans, mm, triangles outward.
    first_marks, second_marks : their landmarks.

    Raises
    ------
    NotAFace : the scans share too little of forehead and nose bridge, or these do not fit each other.
    LandmarkMissing : a landmark of the face frame is missing.
    """
    frame, size = face_frame(first_marks), _size(first_marks)
    still = _still_skin(first, frame, first_marks, size)
    move = _start(first_marks, second_marks)
    target = sample_skin(
        second,
        _SPACING_MM[1],
        _MOST_SAMPLES[1],
        _near_faces(second, np.asarray(np.linalg.inv(move)), frame, _REACH_MM * size),
    )
    tree = cKDTree(target.points)
    rms, share, least = _UNKNOWN_MM, 0.0, limit("other_scan_share").value
    for step in range(ROUNDS):
        reach = max(_FINE_MM, _COARSE_MM * _SHRINK**step)
        change, rms, share = _step(still, target, tree, move, reach)
        move = change @ move
    if share < least:
        raise NotAFace(
            f"The second scan lies on forehead and nose bridge of the first within {STILL_LIMIT_MM} mm on "
            f"{100 * share:.0f} % of them; {100 * least:.0f} % are needed.",
            Where("second scan", frame="scan"),
            "Rescan with a calm brow and the forehead in view, and check that it is the same wearer.",
        )
    nose = _nose_apart(first_marks, second_marks, move)
    miss, beside = _misses(still, target, tree, move)[:2]
    p90 = float(np.percentile(np.abs(miss[beside]), 90)) if beside.any() else _UNKNOWN_MM
    return SecondPose(move, rms, share, p90, nose, _remarks(rms, share, nose))


def _size(marks: Landmarks) -> float:
    """Size of the face by the length from sellion to subnasale, which no expression changes much."""
    return float(np.linalg.norm(marks.point("sellion") - marks.point("subnasale"))) / 50.0


def _start(first: Landmarks, second: Landmarks) -> Floats:
    """Rigid transform (4, 4) from second to first by the landmarks of the upper face (Kabsch)."""
    names = [n for n in ("glabella", "sellion", "pronasale", "subnasale") if n in first and n in second]
    a = np.array([second.point(n) for n in names] + [second.point("sellion") + 40.0 * second.across])
    b = np.array([first.point(n) for n in names] + [first.point("sellion") + 40.0 * first.across])
    centre_a, centre_b = a.mean(axis=0), b.mean(axis=0)
    rotation = Rotation.align_vectors(b - centre_b, a - centre_a)[0].as_matrix()
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = rotation, centre_b - rotation @ centre_a
    return out


def _near_faces(mesh: TriMesh, back: Floats, frame: Floats, reach_mm: float) -> Ints:
    """Triangles of the second scan round the upper face, where the first one's frame says it is."""
    origin = np.linalg.inv(frame)[:3, 3]
    centre = back[:3, :3] @ origin + back[:3, 3]
    offset = mesh.vertices - centre
    near = np.einsum("ij,ij->i", offset, offset) < reach_mm**2
    return np.asarray(mesh.faces[at_all_corners(near, mesh.faces)])


def _still_skin(mesh: TriMesh, frame: Floats, marks: Landmarks, size: float) -> SkinSamples:
    """Samples of forehead, nose bridge and the skin beside it, seen from the front."""
    near = _near_faces(mesh, np.eye(4), frame, _REACH_MM * size)
    skin = sample_skin(mesh, _SPACING_MM[0], _MOST_SAMPLES[0], near)
    q = skin.points @ frame[:3, :3].T + frame[:3, 3]
    root = float((frame[:3, :3] @ marks.point("sellion") + frame[:3, 3])[2])
    facing = skin.normals @ frame[1, :3] < -_FACING
    keep = facing & (q[:, 1] < _BEHIND_MM * size) & _is_still(q[:, 0], q[:, 2] - root, size)
    if keep.sum() * skin.spacing_mm**2 < LEAST_STILL_MM2 * size**2:
        raise NotAFace(
            "The first scan shows too little of forehead and nose bridge to lay another scan on it.",
            Where("scan", frame="scan"),
            "Rescan from the hairline to under the chin.",
        )
    return skin.where(keep)


def _is_still(x: Floats, above_root: Floats, size: float) -> Bools:
    """Forehead above the brows, and the bony half of the nose; brows, eyes and nostrils move."""
    aside, above = np.abs(x) / size, above_root / size
    (low, high), (root, brow), (tip, end) = _FOREHEAD_MM, _GLABELLA_MM, _BRIDGE_MM
    forehead = (aside < _FOREHEAD_HALF_MM) & (above > low) & (above < high)
    glabella = (aside < _GLABELLA_HALF_MM) & (above >= root) & (above < brow)
    bridge = (aside < _BRIDGE_HALF_MM) & (above < end) & (above > tip)
    return np.asarray(forehead | glabella | bridge)


def _step(
    still: SkinSamples, target: SkinSamples, tree: cKDTree, move: Floats, reach_mm: float
) -> tuple[Floats, float, float]:
    """One point-to-plane step: change (4, 4) of the transform, rms distance and covered share before it."""
    miss, beside, q, n = _misses(still, target, tree, move)
    use = beside & (np.einsum("ij,ij->i", n, still.normals) > 0.5) & (np.abs(miss) < 3.0 * reach_mm)
    weight = use / (1.0 + (miss / reach_mm) ** 2) ** 2
    # About the middle of the still parts the unknowns are of one size.
    centre = still.points.mean(axis=0)
    jacobian = np.hstack([np.cross(q - centre, n), n])
    left = jacobian.T @ (weight[:, None] * jacobian) + 1e-6 * np.eye(6)
    turn = np.linalg.solve(left, jacobian.T @ (weight * miss))
    change = np.eye(4)
    change[:3, :3] = rotation_of(np.clip(turn[:3], -_MOST_TURN_RAD, _MOST_TURN_RAD))
    change[:3, 3] = centre - change[:3, :3] @ centre + np.clip(turn[3:], -_MOST_SHIFT_MM, _MOST_SHIFT_MM)
    close = beside & (np.abs(miss) < STILL_LIMIT_MM)
    rms = float(np.sqrt(np.mean(miss[close] ** 2))) if close.any() else _UNKNOWN_MM
    return change, rms, float(close.mean())


def _misses(
    still: SkinSamples, target: SkinSamples, tree: cKDTree, move: Floats
) -> tuple[Floats, Bools, Floats, Floats]:
    """Distance (n,) along the normals of the other skin, where that lies beside, its places, its normals."""
    rotation, shift = move[:3, :3], move[:3, 3]
    _, near = tree.query((still.points - shift) @ rotation)
    q = target.points[near] @ rotation.T + shift
    n = target.normals[near] @ rotation.T
    gap = still.points - q
    miss = np.einsum("ij,ij->i", n, gap)
    beside = np.linalg.norm(gap - miss[:, None] * n, axis=1) < _BESIDE * target.spacing_mm
    return miss, np.asarray(beside), q, n


def _remarks(rms: float, share: float, nose_mm: float) -> tuple[Remark, ...]:
    """How well the scans fit, and a doubt where the noses do not lie on each other."""
    where = Where("second scan", frame="scan")
    text = f"The second scan lies on the first within {rms:.2f} mm at forehead and nose bridge."
    well = share > limit("other_scan_share_good").value and rms < limit("other_scan_rms").value
    said = [Remark("note" if well else "warning", text, where)]
    if nose_mm > limit("other_scan_noses").value:
        text = f"The noses of the two scans lie {nose_mm:.0f} mm apart: is it the same wearer?"
        said.append(Remark("warning", text, where))
    return tuple(said)


def _nose_apart(first: Landmarks, second: Landmarks, move: Floats) -> float:
    """Largest distance between nose landmarks of the two scans, which no expression moves far, mm."""
    apart = [
        move[:3, :3] @ second.point(name) + move[:3, 3] - first.point(name)
        for name in ("sellion", "pronasale", "subnasale")
    ]
    return float(np.linalg.norm(apart, axis=1).max())

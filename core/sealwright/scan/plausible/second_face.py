"""A second face in one scan: whose mask is it to be?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...mesh import Floats, TriMesh
from ..pose.face_fit import Start, first_guesses, thinned
from ..pose.face_refine import refine
from ..pose.nose_candidates import nose_candidates
from ..pose.pose import Pose
from ..pose.sample import front_most, sample_skin
from ..pose.visible_skin import pose_of_fit, sharpened

HEAD_MM = (0.0, 77.0, 30.0)
"""Middle of a usual head in the face frame, mm (by the sculpted head of the demonstrations)."""

HEAD_RADIUS_MM = 125.0
"""Skin nearer to the middle of the head belongs to the first face; heads that touch are 150 mm apart."""

LEAST_AREA_MM2 = 9_000.0
"""Less skin than this beside the first head shows no second face: half of the front of one."""

BUMPS, LEAST_LIKENESS = 8, 0.5
SURE = 0.6
"""Confidence of a pose from which a place counts as a face: shoulders reached 0.43 on invented heads, a
second face has 0.75 and more (docs/plausible)."""


@dataclass(frozen=True, eq=False)
class SecondFace:
    """Another face of the scan.

    Attributes
    ----------
    point : (3,) its subnasale, mm, scan frame.
    apart_mm : distance from the first one's.
    confidence : of its pose, 0 to 1.
    """

    point: Floats
    apart_mm: float
    confidence: float


def second_face(mesh_mm: TriMesh, pose: Pose) -> SecondFace | None:
    """Look for another face outside the first head; None where there is none.

    Parameters
    ----------
    mesh_mm : the whole scan, mm, scan frame.
    pose : of the first face.
    """
    rest = _beside(mesh_mm, pose)
    if rest is None:
        return None
    coarse = sample_skin(rest, 5.0, 12_000)
    noses = nose_candidates(coarse, BUMPS)
    best: Pose | None = None
    for index in range(len(noses.tips)):
        flip = bool(noses.inward_winding[index])
        if flip != pose.faces_inward:  # one scan is wound one way
            continue
        points, starts = first_guesses(coarse, noses, index)
        for start in starts:
            if start.likeness < LEAST_LIKENESS:
                continue
            found = _fitted(rest, points, start, flip)
            if found is not None and (best is None or found.confidence > best.confidence):
                best = found
    if best is None or best.confidence < SURE:
        return None
    there, here = (np.linalg.inv(p.scan_to_face)[:3, 3] for p in (best, pose))
    return SecondFace(
        np.asarray(there, dtype=np.float64), float(np.linalg.norm(there - here)), best.confidence
    )


def _beside(mesh: TriMesh, pose: Pose) -> TriMesh | None:
    """The skin outside the first head, or None where it is too little."""
    back = np.linalg.inv(pose.scan_to_face)
    middle = back[:3, :3] @ (pose.size * np.array(HEAD_MM)) + back[:3, 3]
    far = np.linalg.norm(mesh.vertices - middle, axis=1) > HEAD_RADIUS_MM * pose.size
    faces = far[mesh.faces].all(axis=1)
    if not faces.any():
        return None
    corners = mesh.vertices[mesh.faces[faces]]
    twice = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return mesh.submesh(faces) if 0.5 * twice.sum() > LEAST_AREA_MM2 else None


def _fitted(rest: TriMesh, points: Floats, start: Start, flip: bool) -> Pose | None:
    """The pose of the generic face laid there; None with hardly any skin."""
    q = points @ start.rotation.T + start.shift_mm
    seen = front_most(q[:, 0], q[:, 2], -q[:, 1], 10.0, 22.0)
    rough = refine(thinned(points[seen], 300), start, 9)
    fine = sharpened(rest, Start(rough.rotation, rough.shift_mm, rough.size, rough.likeness), flip)
    return pose_of_fit(fine[0], fine[1], flip) if fine is not None else None

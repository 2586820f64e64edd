"""Proposed landmarks against the truth files, and the exact face frame."""

from __future__ import annotations

import json

import numpy as np
import pytest
from sealwright.errors import LandmarkMissing
from sealwright.scan.landmark_names import DEFINITIONS
from sealwright.scan.landmarks.face_frame import face_frame
from sealwright.scan.landmarks.landmark_set import Landmarks
from sealwright.scan.landmarks.proposal import LOW_CONFIDENCE, propose_landmarks
from sealwright.scan.pose.orient import find_face
from sealwright.scan.repair.clean import clean
from trials.faces import COMPOSITES, HEADS, MIRROR, MOVES, OTHERS, SENSORS, face_scan, found, scan_path, truth

from demo_scenes.procedural_head import make_head
from demo_scenes.sensor import Sensor, capture
from demo_scenes.wearers import WEARERS, Wearer

KNOWN = HEADS + SENSORS
EVERY = KNOWN + COMPOSITES + OTHERS


def mirrored_name(name: str) -> str:
    """The name of the same landmark on the other side of the face."""
    if name.endswith("_left"):
        return name[: -len("left")] + "right"
    return name[: -len("right")] + "left" if name.endswith("_right") else name


def proposed(name: str) -> Landmarks:
    return found(name)[1]


@pytest.mark.scans
@pytest.mark.parametrize("landmark", ["sellion", "pronasale", "subnasale", "menton", "cheilion", "subalare"])
def test_error_against_the_truth_files(landmark: str) -> None:
    """The demand: median at most 3 mm, 95th percentile at most 6 mm.

    Subalare is what the truth files call alare (`faces.truth`); the nostril wing itself has no truth there.
    One pose each is enough here: the next test shows that other poses give the same points.
    """
    names = [landmark] if landmark in DEFINITIONS else [f"{landmark}_left", f"{landmark}_right"]
    errors = [
        float(np.linalg.norm(proposed(scan).point(name) - truth(scan)[name]))
        for scan in KNOWN
        for name in names
    ]
    assert np.median(errors) <= 3.0
    assert np.percentile(errors, 95) <= 6.0


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize("name", EVERY)
def test_landmarks_and_frame_move_and_mirror_with_the_scan(name: str) -> None:
    base, moved, mirrored = (found(name, move)[1] for move in MOVES)
    move = MOVES["moved"]
    for key, point in base.points().items():
        # 1e-6 mm: the demand; rounding alone gives about 1e-12.
        assert moved.point(key) == pytest.approx(move[:3, :3] @ point + move[:3, 3], abs=1e-6)
        assert mirrored.point(mirrored_name(key)) == pytest.approx(MIRROR[:3, :3] @ point, abs=1e-6)
    assert face_frame(moved) @ move == pytest.approx(face_frame(base), abs=1e-6)
    assert MIRROR @ face_frame(mirrored) @ MIRROR == pytest.approx(face_frame(base), abs=1e-6)


@pytest.mark.scans
@pytest.mark.parametrize("name", EVERY)
def test_frame_is_rigid_and_the_face_lies_in_it_as_agreed(name: str) -> None:
    frame, marks = face_frame(proposed(name)), proposed(name)
    assert frame[:3, :3] @ frame[:3, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame[:3, :3]) == pytest.approx(1.0, abs=1e-12)
    at = {key: frame[:3, :3] @ point + frame[:3, 3] for key, point in marks.points().items()}
    assert at["subnasale"] == pytest.approx(np.zeros(3), abs=1e-9)
    assert at["pronasale"][1] < -5.0
    assert at["cheilion_left"][0] > 12.0 > -12.0 > at["cheilion_right"][0]
    assert at["alare_left"][0] > 8.0 > -8.0 > at["alare_right"][0]
    order = ["glabella", "sellion", "pronasale", "subnasale", "stomion", "supramenton", "pogonion", "menton"]
    heights = [at[key][2] for key in order]
    assert heights == sorted(heights, reverse=True)


@pytest.mark.scans
@pytest.mark.parametrize("name", KNOWN)
def test_frame_is_upright_within_a_few_degrees(name: str) -> None:
    """The heads stand upright in their files (+Y up, +Z out), the sensor scans in their stated pose.

    10 degrees: the open jaw turns the chin back by 13 degrees about its joint and the frame by half of that;
    closed mouths stay within 7 (the truth landmarks themselves lean by up to 6.0).
    """
    frame = face_frame(proposed(name))[:3, :3]
    upright = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
    if name in SENSORS:
        pose = json.loads(scan_path(name).with_suffix(".json").read_text())["scan_from_face_4x4_mm"]
        upright = upright @ np.linalg.inv(np.array(pose))[:3, :3]
    turn = frame @ upright.T
    degrees = np.degrees(np.arccos(np.clip((np.trace(turn) - 1) / 2, -1, 1)))
    assert degrees < (10.0 if "open" in name else 7.0)


@pytest.mark.scans
def test_points_lie_on_the_skin() -> None:
    import trimesh

    mesh = face_scan("sensor-scan-a")
    points = np.array(list(proposed("sensor-scan-a").points().values()))
    reference = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    _, away, _ = trimesh.proximity.closest_point_naive(reference, points)
    # 1e-6: two libraries' closest points.
    assert away.max() < 1e-6


@pytest.mark.scans
def test_nose_breadth_and_face_length_are_human() -> None:
    """Means of docs/standards 1.2 (NIOSH 2003 from memory, ANSUR II computed), 3 spreads about both sexes."""
    for name in ("head-mean", "head-a", "head-b", "head-c", "face-f26", "face-m36", "face-f66", "raw-scan-a"):
        marks = proposed(name)
        length = np.linalg.norm(marks.point("sellion") - marks.point("menton"))
        breadth = np.linalg.norm(marks.point("alare_left") - marks.point("alare_right"))
        assert 113.1 - 3 * 6.1 < length < 122.6 + 3 * 6.7
        assert 33.2 - 3 * 3.9 < breadth < 36.6 + 3 * 4.1


@pytest.mark.scans
def test_scan_that_ends_above_the_mouth_is_refused() -> None:
    mesh = face_scan("head-mean")
    upper = mesh.submesh((mesh.vertices[:, 1] > -25.0)[mesh.faces].all(axis=1))
    with pytest.raises(LandmarkMissing) as caught:
        propose_landmarks(upper, found("head-mean")[0])
    assert caught.value.where.key


def test_wings_are_not_taken_for_the_fold_beside_them() -> None:
    """Marlo's wings run into the cheek without a groove; the fold beside the lip is wider, but flatter."""
    from main_job.wearers import marlo_head

    head = marlo_head()
    marks = propose_landmarks(head.mesh, find_face(head.mesh))
    left, right = marks.point("alare_left"), marks.point("alare_right")
    # 3 mm: on both sides the steepest place of a height field with 1 mm cells, smoothed by 1 mm; the fold is
    # 12 mm wider.
    assert left[0] - right[0] == pytest.approx(head.wearer.nose_breadth_mm, abs=3.0)
    for name, point in (("alare_left", left), ("alare_right", right)):
        assert np.linalg.norm(point - head.landmarks[name]) < 3.0


@pytest.mark.costly
@pytest.mark.parametrize("wearer", WEARERS, ids=lambda wearer: wearer.name)
def test_corners_of_a_closed_mouth_are_found_on_a_phone_scan(wearer: Wearer) -> None:
    """The line between the lips of our wearers fades by steps towards its ends, as on soft scans of people.

    3 mm: the demand for the median of all scans, kept here by each; and sure enough not to ask the maker.
    """
    scan = capture(make_head(wearer, 40_000), Sensor(seed=2))
    mesh, _ = clean(scan.mesh)
    marks = propose_landmarks(mesh, find_face(mesh))
    for name in ("cheilion_left", "cheilion_right"):
        assert np.linalg.norm(marks.point(name) - scan.landmarks[name]) < 3.0
        assert marks[name].confidence > LOW_CONFIDENCE

"""A second scan laid on the first by the still parts of the face."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import NotAFace
from sealwright.scan.landmarks.second_pose import SecondPose, align_second_pose
from trials.faces import face_scan, found, random_pose, truth

pytestmark = pytest.mark.scans


def aligned(first: str, second: str, move: np.ndarray | None = None) -> SecondPose:
    """The second scan, moved, laid on the first; its landmarks move with it, as other tests show."""
    move = np.eye(4) if move is None else move
    marks = found(second)[1].moved(move)
    return align_second_pose(face_scan(first), found(first)[1], face_scan(second).moved(move), marks)


def test_open_mouth_laid_on_the_closed_one() -> None:
    """Both heads are in one frame, so the right answer is the inverse of the pose that the test gave."""
    move = random_pose(21)
    pose = aligned("head-a", "head-a-jaw-open", move)
    back = pose.second_to_first @ move
    # 0.3 mm over the head: the model itself moves forehead and nose root by up to 0.1 mm when the jaw opens.
    corners = np.array([[80.0, 80, 60], [-80, 80, 60], [0, -80, 110], [0, 40, 110]])
    there = corners @ back[:3, :3].T + back[:3, 3]
    assert np.linalg.norm(there - corners, axis=1).max() < 0.3
    assert pose.still_rms_mm < 0.2
    assert pose.still_share > 0.9


def test_the_jaw_shows_as_moved() -> None:
    pose = aligned("head-a", "head-a-jaw-open")
    shut, wide = truth("head-a"), truth("head-a-jaw-open")
    moved = {key: pose.second_to_first[:3, :3] @ wide[key] + pose.second_to_first[:3, 3] for key in wide}
    true = np.linalg.norm(wide["menton"] - shut["menton"])  # 24.3 mm by the truth file
    assert np.linalg.norm(moved["menton"] - shut["menton"]) == pytest.approx(true, abs=0.4)
    assert np.linalg.norm(moved["sellion"] - shut["sellion"]) < 0.3


def test_same_face_with_sensor_noise_against_itself_moved() -> None:
    mesh, move = face_scan("sensor-scan-a"), random_pose(22)
    pose = aligned("sensor-scan-a", "sensor-scan-a", move)
    back = pose.second_to_first @ move
    there = mesh.vertices @ back[:3, :3].T + back[:3, 3]
    # 0.05 mm: the two scans are sampled differently, and the skin is rough by 0.1 mm.
    assert np.linalg.norm(there - mesh.vertices, axis=1).max() < 0.05


def test_another_wearer_is_doubted() -> None:
    """Foreheads are much alike; the noses give another wearer away."""
    pose = aligned("head-b", "head-c")
    assert [remark.level for remark in pose.remarks] == ["note", "warning"]
    assert "same wearer" in pose.remarks[1].text
    same = aligned("head-a", "head-a-jaw-open")
    assert [remark.level for remark in same.remarks] == ["note"]


def test_scan_without_forehead_is_refused() -> None:
    mesh = face_scan("head-a")
    low = mesh.submesh((mesh.vertices[:, 1] < 30.0)[mesh.faces].all(axis=1))
    marks = found("head-a")[1]
    with pytest.raises(NotAFace):
        align_second_pose(low, marks, mesh, marks)

"""Landmarks and poses that the maker gives."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sealwright.errors import LandmarkMissing
from sealwright.mesh import TriMesh
from sealwright.scan.landmarks.landmark_file import read_landmark_file
from sealwright.scan.landmarks.landmark_set import Landmark, given_landmarks
from sealwright.scan.landmarks.proposal import propose_landmarks
from sealwright.scan.pose.pose_fallback import pose_from_landmarks, pose_from_points, pose_from_three
from trials.faces import face_scan, found, random_pose, truth

pytestmark = pytest.mark.scans


def landmarks_from_file(path: Path, mesh: TriMesh, mm_per_unit: float = 1.0) -> dict[str, Landmark]:
    """What a job makes of a landmark file."""
    points = {name: np.array(point) * mm_per_unit for name, point in read_landmark_file(path).items()}
    return given_landmarks(points, mesh)


def written(tmp_path: Path, data: Any) -> Path:
    path = tmp_path / "points.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data))
    return path


def test_given_points_replace_the_proposed_ones(tmp_path: Path) -> None:
    mesh = face_scan("head-a")
    base = found("head-a")[1]
    known = truth("head-a")
    metres = {key: (known[key] / 1000.0).tolist() for key in ("sellion", "menton")}
    path = written(tmp_path, metres)
    given = landmarks_from_file(path, mesh, 1000.0)
    both = base.with_given({key: np.array(p) * 1000.0 for key, p in read_landmark_file(path).items()}, mesh)
    assert both.point("menton") == pytest.approx(given["menton"].point, abs=1e-9)
    assert both["menton"].source == "given"
    assert both["menton"].confidence == 1.0
    # 0.01 mm: the truth points are vertices of this mesh, rounded to 0.001 mm.
    assert both.point("sellion") == pytest.approx(known["sellion"], abs=0.01)
    assert both["pronasale"].source == "proposed"


@pytest.mark.parametrize(
    "data",
    [
        {"nose": [0, 0, 0]},
        {"sellion": [0, 0]},
        {"sellion": [0, 0, "x"]},
        {"sellion": [0, 0, None]},
        {"sellion": [1e400, 0, 0]},
        {"sellion": [True, 0, 0]},
        {"sellion": [10**40, 0, 0]},
        {"sellion": [500.0, 0.0, 0.0]},
        [1, 2, 3],
        "not json",
        "[" * 100000,
    ],
)
def test_bad_files_are_refused(data: Any, tmp_path: Path) -> None:
    with pytest.raises(LandmarkMissing) as caught:
        landmarks_from_file(written(tmp_path, data), face_scan("head-a"))
    assert caught.value.fix


def test_absent_file(tmp_path: Path) -> None:
    with pytest.raises(LandmarkMissing):
        landmarks_from_file(tmp_path / "none.json", face_scan("head-a"))


def test_point_just_on_and_just_off_the_skin(tmp_path: Path) -> None:
    mesh = face_scan("head-mean")
    tip = truth("head-mean")["pronasale"]
    near = landmarks_from_file(written(tmp_path, {"pronasale": [tip[0], tip[1], tip[2] + 4.5]}), mesh)
    # 0.5 mm: the tip is round, its nearest place to a point straight in front is next to it.
    assert near["pronasale"].point == pytest.approx(tip, abs=0.5)
    with pytest.raises(LandmarkMissing):
        landmarks_from_file(written(tmp_path, {"pronasale": [tip[0], tip[1], tip[2] + 5.5]}), mesh)


@pytest.mark.parametrize("name", ["head-b", "sensor-scan-a"])
def test_three_clicks_give_a_pose_from_which_landmarks_are_found(name: str) -> None:
    move = random_pose(8)
    mesh = face_scan(name).moved(move)
    points = {key: move[:3, :3] @ point + move[:3, 3] for key, point in truth(name).items()}
    clicks = [points[key] + 1.5 for key in ("exocanthion_left", "exocanthion_right", "pronasale")]
    pose = pose_from_three(mesh, *clicks)
    marks = propose_landmarks(mesh, pose)
    # 6 mm: the demand for the 95th percentile.
    for key in ("sellion", "subnasale", "cheilion_left", "cheilion_right"):
        assert np.linalg.norm(marks.point(key) - points[key]) < 6.0
    assert not pose.faces_inward
    assert pose_from_three(mesh.flipped(), *clicks).faces_inward


def test_points_that_give_no_pose() -> None:
    mesh, known = face_scan("head-b"), truth("head-b")
    left, right, tip = known["exocanthion_left"], known["exocanthion_right"], known["pronasale"]
    for bad in ((left, left, left), (left, right, 0.5 * (left + right)), (left, right, tip * np.nan)):
        with pytest.raises(LandmarkMissing):
            pose_from_three(mesh, *bad)
    with pytest.raises(LandmarkMissing):
        pose_from_points(mesh, {"sellion": left, "menton": right})
    with pytest.raises(LandmarkMissing):
        pose_from_points(mesh, {key: known[key] / 25.4 for key in ("sellion", "menton", "cheilion_left")})


def test_midline_points_alone_give_no_pose() -> None:
    mesh, known = face_scan("head-b"), truth("head-b")
    assert pose_from_landmarks(mesh, {key: known[key] for key in ("sellion", "subnasale", "menton")}) is None
    assert pose_from_landmarks(mesh, {}) is None
    five = {key: known[key] for key in ("sellion", "subnasale", "menton", "cheilion_left", "cheilion_right")}
    pose = pose_from_landmarks(mesh, five)
    assert pose is not None
    # 0.03: two degrees about each axis against the automatic pose.
    assert pose.scan_to_face[:3, :3] == pytest.approx(found("head-b")[0].scan_to_face[:3, :3], abs=0.03)

"""Finding the face in any pose."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import NotAFace
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.scan.pose.orient import find_face
from sealwright.scan.pose.pose import outward
from trials.faces import (
    COMPOSITES,
    HEADS,
    MIRROR,
    MOVES,
    OTHERS,
    SENSORS,
    face_scan,
    found,
    random_pose,
    truth,
)


def pick(mesh: TriMesh, keep: np.ndarray) -> TriMesh:
    return mesh.submesh(keep[mesh.faces].all(axis=1))


@pytest.mark.scans
@pytest.mark.parametrize("name", HEADS + SENSORS)
def test_axes_against_truth(name: str) -> None:
    mesh, known = face_scan(name), truth(name)
    pose = find_face(mesh.moved(random_pose(1)))
    face = (pose.scan_to_face @ random_pose(1))[:3]
    points = {key: face[:, :3] @ point + face[:, 3] for key, point in known.items()}
    # 12 mm: the pose is approximate; half of the distance from lip to nose base, so nothing is mixed up.
    assert np.linalg.norm(points["subnasale"]) < 12.0
    assert points["cheilion_left"][0] > 15.0 > -15.0 > points["cheilion_right"][0]
    assert points["sellion"][2] > 35.0
    assert points["menton"][2] < -45.0
    assert points["pronasale"][1] < -8.0
    # The midline points lie on the mirror plane within their own asymmetry (about 1 mm in the truth files).
    for key in ("sellion", "pronasale", "subnasale", "menton"):
        assert abs(points[key][0]) < 2.0


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize("name", HEADS + SENSORS + COMPOSITES + OTHERS)
def test_moves_and_mirrors_with_the_scan(name: str) -> None:
    pose, moved, mirrored = (found(name, move)[0] for move in MOVES)
    # 1e-6: the demand; rounding alone gives about 1e-12.
    assert moved.scan_to_face @ MOVES["moved"] == pytest.approx(pose.scan_to_face, abs=1e-6)
    assert MIRROR @ mirrored.scan_to_face @ MIRROR == pytest.approx(pose.scan_to_face, abs=1e-6)
    assert pose.confidence > 0.3
    assert not pose.faces_inward


@pytest.mark.scans
def test_inside_out_scan_is_seen_and_said() -> None:
    mesh = face_scan("sensor-scan-a")
    pose, turned = found("sensor-scan-a")[0], find_face(mesh.flipped())
    assert turned.faces_inward
    assert [remark.level for remark in turned.remarks] == ["warning"]
    assert "inside out" in turned.remarks[0].text
    assert turned.scan_to_face == pytest.approx(pose.scan_to_face, abs=1e-6)


@pytest.mark.scans
def test_axes_mirrored_on_export_face_outward_again_and_are_said() -> None:
    """One axis changes its sign and the triangles keep their order: the skin faces inward, left is right."""
    mesh = face_scan("head-a")
    careless = trimesh_of(mesh.vertices * [-1.0, 1.0, 1.0], mesh.faces)
    pose = find_face(careless)
    assert pose.faces_inward
    assert "left and right look exchanged" in pose.remarks[0].text
    # A writer that mirrors properly, order of corners and all, gives the same.
    fair_mesh = mesh.moved(MIRROR)
    assert outward(careless, pose).face_normals == pytest.approx(fair_mesh.face_normals, abs=1e-12)
    fair = find_face(fair_mesh)
    assert not fair.faces_inward
    assert fair.remarks == ()


def sphere(radius: float) -> TriMesh:
    import trimesh

    ball = trimesh.creation.icosphere(5, radius)
    return trimesh_of(ball.vertices, ball.faces)


def test_a_ball_is_no_face() -> None:
    with pytest.raises(NotAFace) as caught:
        find_face(sphere(90.0))
    assert "nose" in caught.value.what


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize("part", ["back", "ear", "shoulders", "above the eyes", "half a face"])
def test_parts_without_a_face_are_refused(part: str) -> None:
    mesh = face_scan("head-mean")
    x, y, z = mesh.vertices.T  # the heads have +X left, +Y up, +Z out of the face
    keep = {
        "back": z < 20.0,
        "ear": x > 60.0,
        "shoulders": y < -80.0,
        "above the eyes": y > 45.0,
        "half a face": x > 0.0,
    }[part]
    with pytest.raises(NotAFace) as caught:
        find_face(pick(mesh, keep))
    assert caught.value.fix


@pytest.mark.scans
def test_face_without_chin_or_forehead_is_still_found() -> None:
    mesh = face_scan("head-mean")
    y, z = mesh.vertices[:, 1], mesh.vertices[:, 2]
    pose = find_face(pick(mesh, (y > -62.0) & (y < 65.0) & (z > 20.0)))
    # 3 mm: how far the generic face slides when its ends have no skin.
    assert pose.scan_to_face[:3] == pytest.approx(found("head-mean")[0].scan_to_face[:3], abs=3.0)

"""The simulated sensor: the truth it states is the truth, its noise is as large as it says."""

from __future__ import annotations

import dataclasses

import igl
import numpy as np
import pytest
from sealwright.errors import BadRecipe
from sealwright.mesh import edge_use, trimesh_of

from demo_scenes.patches import face_patch, waves
from demo_scenes.procedural_head import make_head
from demo_scenes.sensor import MM_PER_UNIT, Sensor, capture
from demo_scenes.wearers import MARLO

SILENT = Sensor(smooth_noise_mm=0.0, white_noise_mm=0.0, spikes=0, holes=0, islands=0)


@pytest.fixture(scope="module")
def head():
    return make_head(MARLO, 40_000)


def back_in_face_frame(scan):
    return scan.mesh.moved(np.linalg.inv(scan.scan_from_face))


def distances(scan):
    vertices = back_in_face_frame(scan).vertices
    clean = scan.head.mesh
    return np.sqrt(igl.point_mesh_squared_distance(vertices, clean.vertices, clean.faces)[0])


@pytest.mark.parametrize("unit", sorted(MM_PER_UNIT))
@pytest.mark.parametrize("pose", ["upright", "any"])
def test_the_stated_pose_takes_a_silent_scan_back_onto_the_head(head, unit, pose):
    scan = capture(head, dataclasses.replace(SILENT, unit=unit, pose=pose, seed=5))
    assert distances(scan).max() < 1e-9  # float64 rounding of a 4x4 there and back
    for name, place in scan.landmarks.items():
        back = np.linalg.inv(scan.scan_from_face) @ np.append(place, 1.0)
        assert back[:3] == pytest.approx(head.landmarks[name], abs=1e-9)
    linear = scan.scan_from_face[:3, :3] * MM_PER_UNIT[unit]
    assert linear @ linear.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(linear) == pytest.approx(1.0, abs=1e-12)  # never mirrored


def test_upright_scans_have_y_up_and_face_the_camera(head):
    places = capture(head, SILENT).landmarks
    up = places["sellion"] - places["menton"]
    assert up[1] / np.linalg.norm(up) > np.cos(np.radians(35.0))  # 12 degrees about each of three axes
    assert places["pronasale"][2] > places["tragion_left"][2]


def test_noise_is_as_large_as_stated(head):
    loud = dataclasses.replace(SILENT, crop="head", smooth_noise_mm=0.3, white_noise_mm=0.4)
    moved = back_in_face_frame(capture(head, loud)).vertices - head.mesh.vertices
    along = np.einsum("ij,ij->i", moved, head.mesh.vertex_normals)
    # independent parts add in squares; 15 %: one draw of 48 waves has few degrees of freedom on one head
    assert along.std() == pytest.approx(0.5, rel=0.15)


def test_waves_have_unit_variance_and_the_stated_length():
    rng = np.random.default_rng(3)
    points = np.random.default_rng(4).uniform(-200, 200, (4000, 3))
    step = np.array([12.0, 0.0, 0.0])
    products, squares = [], []
    for _ in range(20):
        both = waves(np.vstack([points, points + step]), 12.0, rng)
        products.append(np.mean(both[:4000] * both[4000:]))
        squares.append(np.mean(both**2))
    assert np.mean(squares) == pytest.approx(1.0, abs=0.05)  # 20 draws of 48 waves
    # random Fourier features (Rahimi and Recht 2007, from memory): Gaussian covariance exp(-d^2 / 2 l^2)
    assert np.mean(products) == pytest.approx(np.exp(-0.5), abs=0.08)


def test_spikes_stand_out(head):
    scan = capture(head, dataclasses.replace(SILENT, crop="head", spikes=25))
    moved = np.linalg.norm(back_in_face_frame(scan).vertices - head.mesh.vertices, axis=1)
    assert (moved > 1.9).sum() == 25
    assert moved.max() < 8.1


def border_loops(mesh):
    """Number of closed border loops; fails on a pinched border."""
    edges, forward, backward = edge_use(mesh.faces)
    rim = edges[forward + backward == 1]
    vertices, places, uses = np.unique(rim, return_inverse=True, return_counts=True)
    assert (uses == 2).all()
    parent = np.arange(len(vertices))
    for a, b in places.reshape(-1, 2):
        roots = []
        for node in (a, b):
            while parent[node] != node:
                parent[node] = parent[parent[node]]
                node = parent[node]
            roots.append(node)
        parent[roots[0]] = roots[1]
    return sum(parent[node] == node for node in range(len(vertices)))


def test_a_face_patch_holds_the_mask_region_and_no_more(head):
    patch = face_patch(head.mesh, ragged_mm=4.0, seed=2)
    kept = {tuple(v) for v in patch.vertices}
    for name in ("sellion", "pronasale", "menton", "cheilion_left", "alare_right", "pogonion"):
        nearest = head.mesh.vertices[
            np.linalg.norm(head.mesh.vertices - head.landmarks[name], axis=1).argmin()
        ]
        assert tuple(nearest) in kept, name
    assert patch.bounds[1, 1] < 100.0  # nothing of the back of the head
    assert border_loops(face_patch(head.mesh, ragged_mm=0.0)) == 1


def test_holes_and_islands_change_the_topology_as_asked(head):
    patch = dataclasses.replace(SILENT, ragged_mm=0.0, seed=7)
    holed = capture(head, dataclasses.replace(patch, holes=4, hole_mm=5.0))
    assert 1 < border_loops(holed.mesh) <= 5  # a hole may meet the border or another hole
    scraps = capture(head, dataclasses.replace(patch, islands=3))
    assert border_loops(scraps.mesh) >= 4
    far = distances(scraps)
    assert 10.0 < far.max() < 31.0


def test_same_seed_same_bytes_other_seed_other_scan(head):
    first, again, other = (capture(head, Sensor(seed=seed)).mesh for seed in (3, 3, 4))
    assert first.vertices.tobytes() == again.vertices.tobytes()
    assert first.faces.tobytes() == again.faces.tobytes()
    assert first.vertices.tobytes() != other.vertices.tobytes()


def test_scans_are_sound_arrays(head):
    scan = capture(head)
    assert len(trimesh_of(scan.mesh.vertices, scan.mesh.faces).faces) == len(scan.mesh.faces)


def test_impossible_sensors_are_refused(head):
    with pytest.raises(BadRecipe) as refusal:
        capture(head, Sensor(unit="furlong"))
    assert refusal.value.where.key == "sensor.unit"

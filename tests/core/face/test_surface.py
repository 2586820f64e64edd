"""Walking on the face surface, against great circles, straight lines and the front view."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import NotAFace
from sealwright.face.surface import face_chart, face_surface, sheet_mesh
from sealwright.mesh import edge_use

from .shapes import HEAD, as_scan, chart_at, cylinder, plane, sphere


def test_skin_points_lie_on_the_sphere() -> None:
    face = sphere(75.0, (4.0, 6.0, -3.0))
    points = face.drop_on_skin(np.array([[10.0, -40.0, 5.0], [-30.0, -80.0, 20.0]]))
    # 0.001 mm: bilinear between pixels of 0.75 mm on a gentle image
    assert np.linalg.norm(points - [4.0, 6.0, -3.0], axis=1) == pytest.approx([75.0, 75.0], abs=1e-3)


def test_heights_are_radial() -> None:
    face = sphere(75.0)
    points = np.array([[0.0, -80.0, 0.0], [30.0, -40.0, 0.0]])
    # 1e-9: the image of a centred sphere is constant
    assert face.height_of(points) == pytest.approx([5.0, -25.0], abs=1e-9)


@pytest.mark.parametrize("distance", [5.0, 20.0, 33.0])
def test_walk_on_a_sphere_follows_a_great_circle(distance: float) -> None:
    face, angle = sphere(75.0), distance / 75.0
    end = face.walk(np.array([0.0, -75.0, 0.0]), np.array([0.6, 0.3, 0.8]), distance)
    expected = 75.0 * np.array([0.6 * np.sin(angle), -np.cos(angle), 0.8 * np.sin(angle)])
    # 0.5 % of the way: steps are chords of half a millimetre
    assert end == pytest.approx(expected, abs=0.005 * distance)


def test_walk_on_a_cylinder_is_a_helix() -> None:
    face = cylinder(75.0)
    end = face.walk(np.array([0.0, -75.0, 0.0]), np.array([1.0, 0.0, 1.0]), 30.0)
    turn = 30.0 / np.sqrt(2.0) / 75.0
    expected = [75.0 * np.sin(turn), -75.0 * np.cos(turn), 30.0 / np.sqrt(2.0)]
    assert end == pytest.approx(np.array(expected), abs=0.15)


def test_normals_of_a_plane_and_a_sphere() -> None:
    flat, ball = plane(), sphere(75.0, (4.0, 6.0, -3.0))
    pq = np.array([[0.0, 0.0], [0.3, -0.2], [-0.4, 0.35]])
    # The swept skin is blurred over 4 mm; on a plane seen at a slant that bends the image a little.
    assert flat.normal_at(pq) == pytest.approx(np.tile([0.0, -1.0, 0.0], (3, 1)), abs=0.01)
    out = (ball.skin_at(pq) - [4.0, 6.0, -3.0]) / 75.0
    assert ball.normal_at(pq) == pytest.approx(out, abs=0.01)


def test_point_in_the_front_view_has_the_asked_x_and_z() -> None:
    point = sphere(75.0).skin_in_front_view(20.0, -15.0, -50.0)
    assert point == pytest.approx([20.0, -np.sqrt(75.0**2 - 20.0**2 - 15.0**2), -15.0], abs=1e-6)


def test_known_and_measured_differ_where_skin_was_guessed() -> None:
    mesh = as_scan(sphere(75.0, HEAD, centre=HEAD, half=60))
    lost = np.add(HEAD, [5.0, -75.0, 0.0])
    away = mesh.vertices - lost
    holed = mesh.submesh((np.linalg.norm(away, axis=1) > 3.0)[mesh.faces].all(axis=1))
    face = face_surface(holed, chart_at(HEAD, half=60), 12.0)
    place = face.chart.place_of(lost)[0]
    assert face.is_known(place)
    assert not face.is_measured(place)
    assert face.radius_at(place) == pytest.approx(75.0, abs=0.02)
    assert not face.is_known(np.array([1.3, 1.3]))  # beside the image


def test_scan_without_noise_is_not_smoothed() -> None:
    face = face_surface(as_scan(sphere(75.0, HEAD, centre=HEAD, half=60)), chart_at(HEAD, half=60))
    assert face.smoothing.bound_mm == 0.0
    assert face.noise_mm < 0.01


@pytest.mark.parametrize(("asked", "bound"), [(None, 0.3), (0.12, 0.12), (0.0, 0.0)])
def test_bound_of_the_smoothing_is_stated(asked: float, bound: float) -> None:
    mesh = as_scan(sphere(75.0, HEAD, centre=HEAD, half=60))
    noise = np.random.default_rng(1).normal(scale=0.4, size=(len(mesh.vertices), 1))
    noisy = type(mesh)(mesh.vertices + noise * mesh.vertex_normals, mesh.faces)
    face = face_surface(noisy, chart_at(HEAD, half=60), 8.0, asked)
    assert face.smoothing.bound_mm == pytest.approx(bound)


def test_scan_that_is_elsewhere_is_refused() -> None:
    small = as_scan(sphere(75.0, HEAD, centre=HEAD, half=10))
    with pytest.raises(NotAFace) as refusal:
        face_surface(small, face_chart())
    assert refusal.value.where.point is not None
    assert "%" in refusal.value.what


def test_thinned_keeps_the_middle_column() -> None:
    face = sphere(75.0, (4.0, 6.0, -3.0), half=61)
    thin = face.thinned(3)
    assert thin.radii.shape == (41, 41)
    assert thin.chart.directions == pytest.approx(face.chart.directions[1:-1:3, 1:-1:3], abs=1e-12)
    assert np.array_equal(thin.radii, face.radii[1:-1:3, 1:-1:3])


def test_sheet_is_a_mirrored_manifold() -> None:
    face = sphere(75.0, half=20)
    keep = np.ones(face.radii.shape, dtype=bool)
    mesh = sheet_mesh(face.points, keep)
    edges, forward, backward = edge_use(mesh.faces)
    assert forward.max() == 1
    assert backward.max() == 1
    assert (mesh.face_normals * mesh.corners.mean(axis=1)).sum(axis=1).min() > 0
    flipped = set(
        map(tuple, np.sort(np.round(mesh.corners.mean(axis=1) * [-1.0, 1.0, 1.0], 9), axis=0).tolist())
    )
    assert flipped == set(map(tuple, np.sort(np.round(mesh.corners.mean(axis=1), 9), axis=0).tolist()))
    assert len(edges) > 0

"""The face as a solid: volume by solid angle, closed and outward, as fine as the scan, exact stand-off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from main_job.oracles import distance
from sealwright.errors import OffTheScan
from sealwright.face.chart import RadialChart
from sealwright.face.face_solid import face_solid
from sealwright.face.fine_sheet import fine_sheet
from sealwright.face.rasterise import scan_on_chart
from sealwright.face.stand_off import StandOff, at_distance
from sealwright.face.surface import FaceSurface, face_surface, sheet_mesh
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.solids.distance import MeshDistance

from .shapes import HEAD, chart_at, plane, sphere

RING = np.stack(
    [40.0 * np.cos(a := np.linspace(0, 2 * np.pi, 200)), np.full(200, -63.0), 40.0 * np.sin(a)], axis=1
)
SHIFTED = np.eye(4)
SHIFTED[:3, 3] = np.negative(HEAD)


def ridge_scan() -> TriMesh:
    """A ball of radius 75 with a sharp ridge 6 mm high along Z, finely meshed: what pixels cannot follow."""
    fine = RadialChart(np.array(HEAD), 0.0, 0.0026, 310)
    x = 75.0 * fine.directions[..., 0]
    radii = 75.0 + np.maximum(6.0 - 3.0 * np.abs(x - 20.37), 0.0)
    return sheet_mesh(fine.centre + fine.directions * radii[..., None], np.ones(radii.shape, dtype=bool))


def torn_scan() -> TriMesh:
    """A ball of radius 75 with a hole of radius 2.5 mm in front; its edge hangs 2 mm in over 0.4 mm."""
    fine = RadialChart(np.array(HEAD), 0.0, 0.0013, 260)
    away = 75.0 * np.hypot(fine.directions[..., 0], fine.directions[..., 2])
    radii = 75.0 - 2.0 * np.clip((2.9 - away) / 0.4, 0.0, 1.0)
    return sheet_mesh(fine.centre + fine.directions * radii[..., None], away > 2.5)


@pytest.fixture(scope="module")
def ridge() -> FaceSurface:
    return face_surface(ridge_scan(), chart_at(HEAD, half=80))


def along_the_ridge() -> np.ndarray:
    height = np.linspace(-20.0, 20.0, 60)
    across = 20.37 + np.linspace(-4.0, 4.0, 20)
    x, z = (g.ravel() for g in np.meshgrid(across, height))
    return HEAD + np.stack([x, -np.sqrt(75.0**2 - x**2 - z**2), z], axis=1)


def solid_angles(corners: np.ndarray) -> np.ndarray:
    """Signed solid angles (m,) of triangles (m, 3, 3) from the origin: Van Oosterom and Strackee 1983."""
    a, b, c = np.moveaxis(corners / np.linalg.norm(corners, axis=2, keepdims=True), 1, 0)
    return 2 * np.arctan2(
        np.einsum("ij,ij->i", a, np.cross(b, c)),
        1 + (a * b).sum(1) + (b * c).sum(1) + (c * a).sum(1),
    )


def test_solid_over_a_sphere_has_the_volume_of_its_solid_angle() -> None:
    solid = face_solid(sphere(75.0), RING, StandOff(0.0), 0.2)
    corners = solid.mesh.corners
    far = np.linalg.norm(corners, axis=-1)
    outer, inner = far.min(axis=1) > 74.0, far.max(axis=1) < 61.0
    angle = solid_angles(corners[outer])
    below = solid_angles(corners[inner])
    # The bottom has its corners on the ball of 60 mm and fills the same solid angle once, without a fold.
    assert far[inner] == pytest.approx(np.full((inner.sum(), 3), 60.0), abs=1e-9)
    assert (below < 1e-12).all()
    assert -below.sum() == pytest.approx(angle.sum(), rel=1e-9)
    under = -np.linalg.det(corners[inner]).sum() / 6.0
    expected = angle.sum() * 75.0**3 / 3.0 - under
    # Flat triangles instead of a sphere lie under it: squares are merged where that is at most 0.03 mm.
    assert 0.0 < expected - solid.volume < 0.03 * angle.sum() * 75.0**2


@pytest.mark.parametrize("stand_off", [-0.5, 0.0, 1.0, 3.0])
def test_solid_is_closed_outward_and_in_one_piece(stand_off: float) -> None:
    mesh = face_solid(sphere(75.0), RING, StandOff(stand_off)).mesh
    reference = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert reference.is_watertight
    assert reference.is_winding_consistent
    assert reference.volume > 0
    assert reference.body_count == 1
    assert reference.euler_number == 0  # a ring


@pytest.mark.parametrize("stand_off", [-0.5, 0.3, 1.0, 3.0])
def test_stand_off_is_exact_where_the_body_touches(stand_off: float) -> None:
    for face, expected in ((sphere(75.0), 75.0 + stand_off), (plane(-63.0), 63.0 + stand_off)):
        mesh = face_solid(face, RING, StandOff(stand_off)).mesh
        far = np.linalg.norm(mesh.vertices, axis=1)
        angle = np.arccos(-mesh.vertices[:, 1] / far)
        near = (np.abs(angle - np.arctan2(40.0, 63.0)) < 0.016) & (far > 68.0)
        assert near.sum() > 50
        found = far[near] if expected > 70.0 else -mesh.vertices[near, 1]
        # 0.015 mm: distance to the chords of merged squares
        assert found == pytest.approx(np.full(near.sum(), expected), abs=0.015)


def test_filled_closes_the_ring() -> None:
    mesh = face_solid(sphere(75.0), RING, StandOff(0.0), 0.5, filled=True).mesh
    assert trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).euler_number == 2


def test_points_off_the_chart_are_refused() -> None:
    with pytest.raises(OffTheScan) as refusal:
        face_solid(sphere(75.0), RING * [1.0, -1.0, 1.0], StandOff(0.0))
    assert refusal.value.where.point is not None


def test_ridge_between_pixels_is_followed(ridge: FaceSurface) -> None:
    near = along_the_ridge()
    plain, fine = (face_solid(f, near, StandOff(0.0)).mesh for f in (replace(ridge, scan=None), ridge))
    away = ridge.skin.vertices - HEAD
    far = np.linalg.norm(away, axis=1)
    crest = ridge.skin.vertices[(np.abs(away[:, 0] / far * 75 - 20.37) < 0.05) & (np.abs(away[:, 2]) < 15.0)]
    missed = [distance(crest, mesh).max() for mesh in (plain, fine)]
    # Pixels of 0.75 mm cut up to a quarter off a ridge of slope 3; split in four, a quarter of that.
    assert missed[0] > 0.25
    assert missed[1] < 0.3 * missed[0]


def test_guessed_skin_is_kept_where_the_edge_of_a_hole_hangs_in() -> None:
    face = face_surface(torn_scan(), chart_at(HEAD, half=80))
    assert face.guessed.sum() == pytest.approx(np.pi * 2.5**2 / 0.75**2, abs=5)  # pixels along the edge
    x, z = (g.ravel() for g in np.meshgrid(np.linspace(-4.0, 4.0, 9), np.linspace(-4.0, 4.0, 9)))
    solid = face_solid(face, HEAD + np.stack([x, np.full(81, -75.0), z], axis=1), StandOff(0.0))
    height = face.height_of(solid.mesh.vertices)
    pixel = face.chart.pixels_of(face.chart.place_of(solid.mesh.vertices)[0])
    row, column = np.floor(pixel).astype(int).T
    over = face.guessed_squares[row, column] & (height > -10.0)  # without the bottom of the solid
    # Guessed skin runs straight from pixel to pixel; the edge hangs below it. Rounding of radii of 75 mm.
    assert over.sum() > 60
    assert height[over].min() > -1e-9


def test_split_sheet_stays_closed(ridge: FaceSurface) -> None:
    solid = face_solid(ridge, along_the_ridge(), StandOff(0.0))
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2


def test_only_rough_squares_are_split(ridge: FaceSurface) -> None:
    squares = np.zeros((ridge.chart.side - 1,) * 2, dtype=bool)
    squares[20:-20, 20:-20] = True
    fine = fine_sheet(ridge, ridge.radii, squares, squares)
    corners = fine.points[fine.faces] - HEAD
    # Seen from inside the head, half a square of the image has half of (0.01 rad) squared.
    small = solid_angles(corners) < 0.2 * 0.01**2
    off_crest = np.abs(
        75.0 * (corners / np.linalg.norm(corners, axis=2, keepdims=True))[:, :, 0].mean(1) - 20.37
    )
    # The ridge's flanks are straight and end 2 mm from its crest; a square is 0.75 mm wide.
    assert small[off_crest < 0.3].mean() > 0.9
    assert off_crest[small].max() < 2.0 + 2 * 0.75
    smooth = sphere(75.0, half=80)
    seen = replace(smooth, scan=scan_on_chart(sheet_mesh(smooth.points, smooth.known), smooth.chart, 200.0))
    plain = fine_sheet(smooth, smooth.radii, squares, squares)
    assert len(fine_sheet(seen, smooth.radii, squares, squares).faces) == len(plain.faces)


def test_flat_squares_are_merged_within_the_limit() -> None:
    ball = sphere(75.0, half=80)
    squares = np.ones((ball.chart.side - 1,) * 2, dtype=bool)
    sheet = fine_sheet(ball, ball.radii, squares, squares)
    assert len(sheet.faces) < 0.32 * 2 * squares.sum()  # most by 2 x 2
    middles = np.linalg.norm(sheet.points[sheet.faces].mean(axis=1), axis=1)
    assert middles.max() < 75.0
    assert middles.min() > 75.0 - 0.015  # the limit where the body touches


def test_smoothed_skin_is_kept_within_its_bound() -> None:
    base = sphere(75.0, HEAD, centre=HEAD, half=80)
    rng = np.random.default_rng(9)
    noisy = base.points + rng.normal(scale=0.1, size=(*base.radii.shape, 1)) * base.chart.directions
    face = face_surface(sheet_mesh(noisy, base.known), chart_at(HEAD, half=80), 8.0, 0.2)
    solid = face_solid(face, RING + HEAD, StandOff(0.0)).mesh.moved(SHIFTED)
    scan = trimesh.Trimesh(face.skin.vertices - HEAD, face.skin.faces, process=False)
    near = np.abs(np.hypot(solid.vertices[:, 0], solid.vertices[:, 2]) - 40.0) < 1.0
    near &= np.linalg.norm(solid.vertices, axis=1) > 74.0
    hits, ray, _ = scan.ray.intersects_location(np.zeros((near.sum(), 3)), solid.vertices[near], False)
    away = np.linalg.norm(hits - solid.vertices[near][ray], axis=1)
    # 0.001: single precision of embree
    assert away.max() < 0.2 + 1e-3
    assert away.max() > 0.05  # it was smoothed


def test_at_distance_from_a_plane_and_into_a_groove() -> None:
    sheet = plane(-75.0, half=60)
    skin = MeshDistance(sheet_mesh(sheet.points, sheet.known))
    start = sheet.skin_at(np.array([[0.1, 0.2], [-0.3, 0.1]])) * 1.02
    moved = at_distance(start, np.zeros(3), skin, 2.0)
    assert moved[:, 1] == pytest.approx([-77.0, -77.0], abs=1e-6)
    groove = trimesh_of(
        [[0, -60, -30], [0, -60, 30], [30, -90, -30], [30, -90, 30], [-30, -90, -30], [-30, -90, 30]],
        [[0, 1, 2], [1, 3, 2], [0, 4, 1], [1, 4, 5]],
    )
    moved = at_distance(np.array([[0.0, -66.0, 0.0]]), np.zeros(3), MeshDistance(groove), 3.0)
    # Out of a right-angled groove the ball of radius 3 sits 3 sqrt(2) above its bottom.
    assert moved[0] == pytest.approx([0.0, -60.0 - 3.0 * np.sqrt(2.0), 0.0], abs=1e-3)

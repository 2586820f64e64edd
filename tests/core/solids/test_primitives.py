"""Primitives against closed volume formulas; closedness by trimesh."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from scipy.spatial import ConvexHull
from sealwright.errors import BadSolid
from sealwright.solids.boolean import Solid, pieces
from sealwright.solids.primitives import (
    around_circle,
    circle,
    cuboid,
    cylinder,
    frustum,
    lofted,
    prism,
    prism_faces,
    revolved,
    rounded_rectangle,
    scattered,
    tube,
)
from sealwright.solids.rounded import ball_points, rounded_hull

N = 96


def polygon_share(segments: int) -> float:
    """Area of a regular polygon over that of its circle."""
    return math.sin(2 * math.pi / segments) / (2 * math.pi / segments)


def volume_by_trimesh(solid: Solid) -> float:
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    return float(mesh.volume)


def test_cylinder_is_its_polygon_times_its_height() -> None:
    solid = cylinder(7.0, -2.0, 5.0, "rod", N)
    assert volume_by_trimesh(solid) == pytest.approx(math.pi * 49 * 7 * polygon_share(N), rel=1e-12)


def test_frustum_and_tube() -> None:
    cone = math.pi * 4.0 / 3.0 * (9 + 15 + 25)  # pi h / 3 (r1^2 + r1 r2 + r2^2)
    assert volume_by_trimesh(frustum(3, 5, 0, 4, "cone", N)) == pytest.approx(
        cone * polygon_share(N), rel=1e-12
    )
    ring = math.pi * (25 - 9) * 2
    solid = tube(3, 5, 0, 2, "tube", N)
    assert volume_by_trimesh(solid) == pytest.approx(ring * polygon_share(N), rel=1e-12)
    assert solid.genus == 1


def test_revolved_ring_by_pappus() -> None:
    # Square section of side 2 about radius 10: V = 2 pi R A, a polygon of N sides keeps the same share.
    solid = revolved([(9, 0), (11, 0), (11, 2), (9, 2)], "ring", N)
    assert volume_by_trimesh(solid) == pytest.approx(2 * math.pi * 10 * 4 * polygon_share(N), rel=1e-12)


def test_corners_lie_on_the_true_circle_from_plus_x() -> None:
    vertices = cylinder(7.0, 0.0, 1.0, "rod", N).mesh.vertices
    radius = np.hypot(vertices[:, 0], vertices[:, 1])
    assert np.allclose(radius[radius > 1], 7.0, atol=1e-12)
    assert np.any(np.all(np.isclose(vertices, [7.0, 0.0, 0.0]), axis=1))


def test_flat_sides_touch_the_circle_when_grown() -> None:
    corner = around_circle(7.0, N)
    assert corner * math.cos(math.pi / N) == pytest.approx(7.0, abs=1e-12)


def test_profile_across_the_axis_is_refused() -> None:
    with pytest.raises(BadSolid) as caught:
        revolved([(-1, 0), (2, 0), (2, 1)], "ring")
    assert caught.value.where.role == "ring"


def test_clockwise_profile_is_refused() -> None:
    with pytest.raises(BadSolid):
        revolved([(1, 0), (1, 1), (2, 1), (2, 0)], "ring")


def test_rounded_rectangle_area() -> None:
    outline = rounded_rectangle(30.0, 20.0, 4.0, 64)
    x, y = outline.T
    area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
    # l w - (4 - pi) r^2, the corners being 4 x 63 chords of a circle
    assert area == pytest.approx(600 - (4 - math.pi * polygon_share(4 * 63)) * 16, rel=1e-12)
    assert outline.max(axis=0) == pytest.approx([15.0, 10.0])


def test_prism_and_loft() -> None:
    assert volume_by_trimesh(cuboid((0, 0, 0), (2, 3, 4), "box")) == pytest.approx(24.0, rel=1e-12)
    square = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)], dtype=float)
    stack = lofted([square, square, 0.5 * square], [0, 1, 2], "stack")
    # cube part 4, then a pyramid frustum h/3 (A1 + A2 + sqrt(A1 A2)) = (4 + 1 + 2) / 3
    assert volume_by_trimesh(stack) == pytest.approx(4 + 7 / 3, rel=1e-12)


@pytest.mark.parametrize("outlines", [([(1, 0), (0, 0), (0, 1)],) * 2])
def test_clockwise_outline_is_refused(outlines: tuple[object, object]) -> None:
    with pytest.raises(BadSolid):
        lofted(list(outlines), [0.0, 1.0], "plate")


def test_falling_heights_are_refused() -> None:
    with pytest.raises(BadSolid):
        prism(circle(3.0, 12), 1.0, 0.0, "plate")


def test_scattered_pieces_stay_apart() -> None:
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    one = np.vstack([np.column_stack([square, np.zeros(4)]), np.column_stack([square, np.ones(4)])])
    solid = scattered(one[None] + np.array([[[0, 0, 0]], [[3, 0, 0]], [[0, 3, 0]]]), prism_faces(4), "posts")
    assert [piece.volume for piece in pieces(solid)] == pytest.approx([1.0] * 3)


def test_a_hollow_without_room_is_none() -> None:
    """A crease that the modeller closed in itself: a tetrahedron a ten-thousandth of a nanometre high."""
    crease = Manifold.tetrahedron().scale([1.0, 1.0, 1e-13])
    solid = Solid("box", Manifold.cube([10.0, 10.0, 10.0], True) - crease)
    assert len(solid.native.decompose()) == 2
    assert [piece.volume for piece in pieces(solid)] == pytest.approx([1000.0])


def test_capsule_volume() -> None:
    solid = rounded_hull([(0, 0, 0), (0, 0, 10)], 3.0, "capsule", meridians=48)
    true = math.pi * 9 * 10 + 4 / 3 * math.pi * 27
    # 48 meridians: the inscribed shape is up to 2 (1 - cos(pi/48)) = 0.4 % of area too small, caps a little
    # more
    assert true * 0.993 < volume_by_trimesh(solid) < true


def test_rounded_hull_reaches_its_radius_and_no_further() -> None:
    solid = rounded_hull([(-5, 0, 0), (5, 0, 0), (0, 5, 0)], 2.0, "pad")
    assert solid.mesh.bounds[:, 2] == pytest.approx([-2.0, 2.0])


@pytest.mark.parametrize("seed", range(12))
def test_rounded_hull_is_the_hull_of_all_points_of_its_balls(seed: int) -> None:
    """Leaving out points inside before the hull is made must not change it: scipy's hull of all of them."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 30))
    centres = rng.normal(size=(count, 3)) * rng.choice([1.0, 5.0, 20.0])
    radii = rng.uniform(0.2, 3.0, count) if seed % 2 else np.full(count, 0.8)
    meridians = rng.choice([8, 16, 24], count).tolist()
    balls = [m + r * ball_points(1.0, n) for m, r, n in zip(centres, radii, meridians, strict=True)]
    whole = ConvexHull(np.vstack(balls)).volume
    # rounding only
    assert rounded_hull(centres, radii, "balls", meridians).volume == pytest.approx(whole, rel=1e-12)

"""The scan as an image of radii, against exact spheres and against embree's rays."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from sealwright.face.rasterise import scan_on_chart
from sealwright.mesh import joined, trimesh_of

from .shapes import chart_at

CHART = chart_at((0.0, 0.0, 0.0), half=60)


def ball(radius: float, subdivisions: int = 4, middle=(0.0, 0.0, 0.0)):
    """A sphere as an icosahedron's refinement (trimesh)."""
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    return trimesh_of(made.vertices + middle, made.faces)


def hits(mesh, chart) -> np.ndarray:
    """Furthest hit of each pixel's ray by embree (float32 inside)."""
    reference = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    directions = chart.directions.reshape(-1, 3)
    start = np.broadcast_to(chart.centre, directions.shape)
    places, ray, _ = reference.ray.intersects_location(start, directions, multiple_hits=True)
    radii = np.full(len(directions), -np.inf)
    np.maximum.at(radii, ray, np.linalg.norm(places - chart.centre, axis=1))
    radii[np.isinf(radii)] = np.nan
    return radii.reshape(chart.side, chart.side)


def test_sphere_about_the_centre() -> None:
    mesh = ball(75.0)
    radii = scan_on_chart(mesh, CHART, 200.0).radii()
    assert radii.shape == (CHART.side, CHART.side)
    # Corners lie on the sphere; the plane of a triangle with circumradius q <= e / sqrt(3) lies at
    # sqrt(R^2 - q^2) from the middle.
    edge = np.linalg.norm(np.roll(mesh.corners, 1, axis=1) - mesh.corners, axis=-1).max()
    assert radii.min() >= np.sqrt(75.0**2 - edge**2 / 3.0) - 1e-9
    assert radii.max() <= 75.0 + 1e-9


def test_sphere_beside_the_centre() -> None:
    middle = np.array([5.0, 10.0, -4.0])
    radii = scan_on_chart(ball(80.0, 5, middle), CHART, 200.0).radii()
    along = CHART.directions @ middle
    exact = along + np.sqrt(along**2 - middle @ middle + 80.0**2)
    # 0.03 mm: chords of the finer sphere, at a slant of up to 9 degrees
    assert np.abs(radii - exact).max() < 0.03


def test_every_pixel_agrees_with_embree(marlo) -> None:
    chart = marlo.face.chart
    radii = scan_on_chart(marlo.skin, chart, 1000.0).radii()
    expected = hits(marlo.skin, chart)
    both = np.isfinite(radii) & np.isfinite(expected)
    # Rays along a border or a brink are seen by one and not by the other.
    assert (np.isfinite(radii) != np.isfinite(expected)).mean() < 1e-4
    off = np.abs(radii - expected)[both]
    # 1e-3 mm: single precision at 100 mm, at a slant; a brink between two layers takes the rest.
    assert np.percentile(off, 99.95) < 1e-3


def test_outermost_of_two_layers_is_taken() -> None:
    both = joined(ball(60.0), ball(75.0))
    assert np.array_equal(
        scan_on_chart(both, CHART, 200.0).radii(), scan_on_chart(ball(75.0), CHART, 200.0).radii()
    )


def test_winding_does_not_matter() -> None:
    mesh = ball(75.0)
    inward = scan_on_chart(mesh.flipped(), CHART, 200.0).radii()
    # 1e-12 mm: the same products in another order
    assert inward == pytest.approx(scan_on_chart(mesh, CHART, 200.0).radii(), abs=1e-12)


def test_what_is_too_far_and_what_is_behind_is_left_out() -> None:
    assert np.isnan(scan_on_chart(ball(75.0), CHART, 70.0).radii()).all()
    behind = ball(10.0, 3, (0.0, 60.0, 0.0))  # the chart looks along -Y
    assert np.isnan(scan_on_chart(behind, CHART, 200.0).radii()).all()


def test_wanted_pixels_alone_give_the_same_values() -> None:
    mesh = ball(75.0)
    wanted = np.zeros((CHART.side, CHART.side), dtype=bool)
    wanted[10:14, 90:] = True
    wanted[60, 60] = True
    some, whole = scan_on_chart(mesh, CHART, 200.0).radii(wanted), scan_on_chart(mesh, CHART, 200.0).radii()
    assert np.array_equal(some[wanted], whole[wanted])
    assert np.isnan(some[~wanted]).all()

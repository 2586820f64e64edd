"""The skin patch: what is in it, what is not, and that preparing it gives the face it was cut from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from bare import bare_recipe
from scipy.spatial import cKDTree
from sealwright.designing.prepare import design, run_to_end
from sealwright.designing.skin_patch import (
    COLLAR_MM,
    MARGIN_MM,
    _rim,
    patch_of,
    prepare_patch,
    skin_patch,
)
from sealwright.errors import LandmarkMissing
from sealwright.solids.polygon import closed_edges, inside_edges

TUBE = replace(bare_recipe(), kind="tube")


@pytest.fixture(scope="module")
def made(marlo):
    return run_to_end(design(marlo, TUBE))


@pytest.fixture(scope="module")
def patch(made):
    return skin_patch(made)


def test_inside_agrees_with_shapely():
    angle = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    radius = 1.0 + 0.4 * np.sin(3.0 * angle)  # three lobes: not convex
    loop = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    points = np.random.default_rng(5).uniform(-1.5, 1.5, (500, 2))
    wanted = shapely.contains_xy(shapely.Polygon(loop), points[:, 0], points[:, 1])
    assert np.array_equal(inside_edges(points, closed_edges(loop)), wanted)


def test_nothing_lies_beyond_margin_and_collar(marlo, made, patch):
    rim, chart = cKDTree(_rim(made)), marlo.face.chart
    loop = chart.place_of(rim.data)[0]
    for mesh, reach in ((patch.skin, MARGIN_MM), (patch.mesh, COLLAR_MM)):
        outside = ~inside_edges(chart.place_of(mesh.vertices)[0], closed_edges(loop))
        assert rim.query(mesh.vertices[outside])[0].max() < reach
    assert len(patch.skin.faces) < 0.2 * len(marlo.skin.faces)
    # every true vertex is one of the scan's own, unchanged
    assert cKDTree(marlo.skin.vertices).query(patch.skin.vertices)[0].max() == 0.0


def test_the_collar_is_blurred_and_never_counts_as_measured(marlo, patch):
    again = run_to_end(prepare_patch(patch, TUBE, np.eye(4)))
    collar = patch.mesh.vertices[np.unique(patch.mesh.faces[patch.true_faces :])]
    pq = marlo.face.chart.place_of(collar)[0]
    # points of the collar lie on the smoothed skin; bilinear look-up at other pixels than its own
    assert np.abs(collar - marlo.face.skin_at(pq, smooth=True)).max() < 1e-6
    assert again.face.is_measured(pq).mean() < 0.05  # its first row may share a pixel with true skin
    assert not (again.face.measured & again.face.guessed).any()


def test_the_same_face_comes_back(marlo, made, patch):
    again = run_to_end(prepare_patch(patch, TUBE, np.eye(4)))
    for name, point in marlo.landmarks.items():
        assert np.abs(again.landmarks[name] - point).max() < 1e-9  # the frame is its own
    pick = (slice(None, None, 5), slice(None, None, 5))
    both = (marlo.face.measured & again.face.measured)[pick]
    inner = both & (depth_in_patch(made, marlo.face.points[pick]) > 2.0)
    off = np.abs(again.face.radii - marlo.face.radii)[pick][inner]
    # Two millimetres inside the patch no triangle is missing, and the same triangles give the same radii.
    # Where skin folds over itself as seen from inside the head, the outer layer may lie beyond the margin.
    assert (off > 1e-9).mean() < 0.002
    assert inner.sum() > 1000
    assert again.face.pitch_mm == pytest.approx(marlo.face.pitch_mm, rel=1e-12)
    assert again.face.noise_mm == marlo.face.noise_mm


def depth_in_patch(made, points):
    """How far points lie inside the border of the true skin, mm; negative beyond it."""
    rim, chart = cKDTree(_rim(made)), made.prepared.face.chart
    loop = chart.place_of(rim.data)[0]
    flat = points.reshape(-1, 3)
    inside = inside_edges(chart.place_of(flat)[0], closed_edges(loop))
    away = rim.query(flat)[0]
    return np.where(inside, MARGIN_MM + away, MARGIN_MM - away).reshape(points.shape[:-1])


def test_plain_data_pose_and_size_come_back(marlo, made, patch):
    moved = np.array(
        [[0.0, -1.0, 0.0, 5.0], [1.0, 0.0, 0.0, -7.0], [0.0, 0.0, 1.0, 2.0], [0.0, 0.0, 0.0, 1.0]]
    )
    larger = replace(TUBE, scan=replace(TUBE.scan, wearer_scale=1.05))
    read = patch_of(patch.mesh, patch.about())
    again = run_to_end(prepare_patch(read, larger, np.linalg.inv(moved)))
    for name, point in marlo.landmarks.items():
        assert np.abs(again.landmarks[name] - 1.05 * point).max() < 1e-9
        there = moved[:3, :3] @ point + moved[:3, 3]
        back = again.scan_to_design[:3, :3] @ there + again.scan_to_design[:3, 3]
        assert np.abs(back - 1.05 * point).max() < 1e-9


def test_a_moved_landmark_counts_and_one_off_the_skin_is_refused(marlo, patch):
    place = marlo.landmarks["cheilion_left"] + [1.5, 0.0, 0.0]
    again = run_to_end(prepare_patch(patch, TUBE, np.eye(4), {"cheilion_left": place.tolist()}))
    assert 0.5 < np.linalg.norm(again.landmarks["cheilion_left"] - marlo.landmarks["cheilion_left"]) < 3.0
    assert again.confidence["cheilion_left"] == 1.0
    with pytest.raises(LandmarkMissing) as refusal:
        run_to_end(prepare_patch(patch, TUBE, np.eye(4), {"cheilion_left": [0.0, -200.0, 0.0]}))
    assert refusal.value.where.key == "cheilion_left"

"""The second pose: nothing moves between equal scans, an open jaw lifts the lower face, the pose is free."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bare import bare_recipe
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.designing.sketch import sketch
from sealwright.errors import LandmarkMissing
from sealwright.predict.band import band_on_skin
from sealwright.predict.second_pose import moved_band
from sealwright.predict.second_pose_result import SecondPoseCheck
from sealwright.predict.skin_slide import along_and_across, skin_slide
from sealwright.progress import run_to_end
from sealwright.report.fit_report import plain
from sealwright.report.sections.prediction import second_pose_section
from to_the_end import check_second_pose
from trials.places import open_data

from .wearers import head_a, invented, quick, scan, sketched


@cache
def on_head_a():
    return sketch(head_a(), bare_recipe())


@cache
def open_jaw() -> Prepared:
    return run_to_end(prepare(scan("head-a-jaw-open.ply"), bare_recipe()))


@cache
def jaw_check() -> SecondPoseCheck:
    return check_second_pose(on_head_a(), open_jaw(), quick())


def test_the_same_pose_changes_nothing():
    found = check_second_pose(sketched(), invented(), quick())
    # Alignment is as good as its samples of forehead and nose (under 0.1 mm there); at the chin,
    # 110 mm below them, a turn of 2 mrad makes 0.2 mm.
    assert np.abs(found.second_to_first[:3, :3] - np.eye(3)).max() < 0.002
    assert np.abs(found.gap_mm).max() < 0.25
    assert not found.lifted.any() and found.contact.share_closed == 1.0
    assert found.contact.mean_kpa == pytest.approx(found.first.mean_kpa, rel=0.02)
    assert max(np.abs(found.slide_along_mm).max(), np.abs(found.slide_across_mm).max()) < 0.25


def test_skin_that_swells_by_two_millimetres_comes_two_millimetres_nearer():
    # Radii grown by 2 mm: along the normal 2 mm times the slant, within what the slant of steep skin loses.
    band, face = band_on_skin(sketched()), invented().face
    gap, patch, covered = moved_band(band, replace(face, radii=face.radii + 2.0))
    pq, _ = face.chart.place_of(band.places)
    slant = (face.chart.direction_at(pq) * face.normal_at(pq)).sum(-1)
    assert np.allclose(gap, -2.0 * slant, atol=0.15)
    assert covered == 1.0
    assert np.array_equal(band.grid(patch.gap_mm), gap)


@pytest.mark.costly
def test_open_jaw_lifts_chin_and_mouth_sides_more_than_the_nose():
    found = jaw_check()
    lift = found.region_lift_mm()
    lower = max(lift["mouth_side"], lift["chin"])
    # Nothing above the upper lip moves when the jaw drops (truth: vertices equal within 0.5 mm there).
    assert lower > 1.0 > 5 * lift["nose_bridge"]
    assert lift["nose_side"] < 0.2 * lower
    assert 0.2 < found.lifted.mean() < 0.8
    assert found.contact.share_closed < 0.8 < found.first.share_closed
    assert found.fit.chance_pass < 0.1
    assert any("pressed in by" in r.text for r in found.remarks)


def test_alignment_against_the_true_pose():
    # Both files are in one frame, so the truth is known through both preparations.
    truth = head_a().scan_to_design @ np.linalg.inv(open_jaw().scan_to_design)
    error = jaw_check().second_to_first @ np.linalg.inv(truth)
    at_chin = np.array([0.0, 5.0, -65.0, 1.0])
    assert np.linalg.norm((error @ at_chin - at_chin)[:3]) < 0.3


def test_slide_of_the_skin_against_the_true_vertices():
    # Every vertex of the open head is known in both poses (ICT FaceKit, shared scans).
    import trimesh

    first, second = (
        trimesh.load(open_data(name), process=False).vertices
        for name in ("head-a.ply", "head-a-jaw-open.ply")
    )
    to_face = head_a().scan_to_design
    line = on_head_a().seal_line
    at = first @ to_face[:3, :3].T + to_face[:3, 3]
    away, near = cKDTree(at).query(line.points, k=3)
    weight = 1.0 / np.maximum(away, 1e-3)
    weight /= weight.sum(axis=1, keepdims=True)
    moved = ((second - first) @ to_face[:3, :3].T)[near]
    true = (weight[..., None] * moved).sum(axis=1)
    normals = head_a().face.normal_at(line.pq)
    along, across = along_and_across(true, line.tangents, normals)
    found = jaw_check()
    # The errors stated in skin_slide, with a tenth on top.
    assert np.sqrt(np.mean((found.slide_across_mm - across) ** 2)) < 1.0
    assert np.sqrt(np.mean((found.slide_along_mm - along) ** 2)) < 2.6
    assert np.abs(across).max() > 15.0


def test_pose_of_the_second_scan_does_not_matter():
    pose = np.eye(4)
    pose[:3, :3] = Rotation.from_rotvec([0.4, 0.2, -0.7]).as_matrix()
    pose[:3, 3] = [10.0, 80.0, -300.0]
    moved = run_to_end(prepare(scan("head-a-jaw-open.ply").moved(pose), bare_recipe()))
    other = check_second_pose(on_head_a(), moved, quick())
    assert np.allclose(other.gap_mm, jaw_check().gap_mm, atol=1e-3)
    assert other.contact.peak_kpa == pytest.approx(jaw_check().contact.peak_kpa, rel=1e-3)


def test_slide_needs_landmarks_and_spreads_them_exactly():
    marks = dict(invented().landmarks)
    moved = {name: point + np.array([0.0, 1.0, -2.0]) for name, point in marks.items()}
    at = np.array([marks["menton"], marks["alare_left"]])
    # An interpolation goes through its own points.
    assert np.allclose(skin_slide(at, marks, moved, 1.0), [0.0, 1.0, -2.0], atol=1e-6)
    with pytest.raises(LandmarkMissing, match="share 1 landmarks"):
        skin_slide(at, marks, {"menton": moved["menton"]}, 1.0)


def test_the_section_is_plain_and_carries_units():
    import json

    section = second_pose_section(jaw_check())
    json.dumps(plain(section), allow_nan=False)
    assert section["largest_lift_mm"] == pytest.approx(np.nanmax(jaw_check().lift_mm))
    assert section["fit_factor_p5"] <= section["fit_factor_p95"]

"""The seal line: even, on the skin, in order, mirrored with the face; what is refused, and where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import BARE_LINE
from face.shapes import plane, sphere
from sealwright.errors import LandmarkMissing, OffTheScan, SealLineCrossing
from sealwright.facepiece.seal_line import SealLineSettings, line_through
from sealwright.facepiece.seal_line_proposal import propose_control_points, seal_line

from .scenes import RADIUS_MM, RING_MM, circle


def test_circle_on_a_sphere_is_a_circle() -> None:
    face = sphere(RADIUS_MM)
    line = line_through(face, circle(face), 192, 5.0)
    radius = np.hypot(line.points[:, 0], line.points[:, 2])
    # Smoothing by s mm along the line shrinks a circle of radius r by s^2 / (2 r), twice over.
    assert radius.min() > RING_MM - 5.0**2 / RING_MM - 0.05
    assert radius.max() <= RING_MM + 0.05
    assert radius.max() - radius.min() < 0.05
    assert line.length_mm == pytest.approx(2 * np.pi * radius.mean(), rel=2e-4)


@pytest.mark.parametrize("stations", [96, 192, 193])
def test_stations_are_even_and_start_at_the_top_to_the_left(stations: int) -> None:
    face = sphere(RADIUS_MM)
    line = line_through(face, circle(face), stations, 5.0)
    assert len(line.points) == 2 * (stations // 2)
    steps = np.linalg.norm(np.roll(line.points, -1, axis=0) - line.points, axis=1)
    # 0.1 %: even on the dense polygon, read off by straight lines
    assert steps == pytest.approx(np.full(len(steps), line.spacing_mm), rel=1e-3)
    assert abs(line.points[0, 0]) < 0.02
    assert line.points[0, 2] > 0
    assert line.points[1, 0] > 0


def test_points_given_the_other_way_round_make_the_same_line() -> None:
    face = sphere(RADIUS_MM)
    control = circle(face)
    there, back = (line_through(face, points, 96, 5.0).points for points in (control, control[::-1]))
    # 1e-9: another order of the same sums
    assert back == pytest.approx(there, abs=1e-9)


def test_line_lies_on_the_skin() -> None:
    face = plane(-RADIUS_MM)
    line = line_through(face, circle(face), 96, 5.0)
    # 0.003 mm: bilinear between pixels 0.85 mm apart on radii that curve as 1 / cos
    assert line.points[:, 1] == pytest.approx(np.full(96, -RADIUS_MM), abs=3e-3)


def test_three_control_points_are_refused() -> None:
    face = sphere(RADIUS_MM)
    with pytest.raises(SealLineCrossing, match="3 control points") as refusal:
        line_through(face, circle(face, 3), 96, 5.0)
    assert "Add control points" in refusal.value.fix


def test_crossed_control_points_are_refused_with_the_place() -> None:
    face = sphere(RADIUS_MM)
    control = circle(face)
    control[[2, 7]] = control[[7, 2]]
    with pytest.raises(SealLineCrossing, match="crosses itself") as refusal:
        line_through(face, control, 96, 5.0)
    place = np.array(refusal.value.where.point)
    assert np.linalg.norm(place) == pytest.approx(RADIUS_MM, abs=0.1)
    assert "in order" in refusal.value.fix


def test_control_point_off_the_scan_is_refused_with_its_number(marlo) -> None:
    points = tuple((40.0 * np.cos(t), -10.0, 40.0 * np.sin(t) - 20.0) for t in np.linspace(0, 5.5, 9))
    away = (*points[:4], (10.0, 400.0, 0.0), *points[5:])
    with pytest.raises(OffTheScan, match="1 of 9") as refusal:
        seal_line(marlo.face, marlo.landmarks, SealLineSettings(control_points=away), 96, 6.75)
    assert refusal.value.where.indices == (4,)


def test_missing_landmark_is_named(marlo) -> None:
    without = {name: p for name, p in marlo.landmarks.items() if name != "alare_left"}
    with pytest.raises(LandmarkMissing, match="alare_left") as refusal:
        propose_control_points(marlo.face, without, BARE_LINE)
    assert refusal.value.where.key == "alare_left"


def on_skin(face, first: np.ndarray, last: np.ndarray) -> float:
    """Length on the skin of the straight way on the chart between two points, mm."""
    a, b = face.chart.place_of(first)[0], face.chart.place_of(last)[0]
    way = face.skin_at(a + (b - a) * np.linspace(0.0, 1.0, 200)[:, None])
    return float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())


def test_proposal_passes_where_the_settings_say(marlo) -> None:
    """Distances walked on the skin: nose drop down the ridge, mouth margin outwards, wing margin in X."""
    settings = SealLineSettings(follow_size=False)
    control, under = propose_control_points(marlo.face, marlo.landmarks, settings)
    marks = {name: np.asarray(p) for name, p in marlo.landmarks.items()}
    assert under
    assert len(control) == 10
    # Walks go over skin blurred by 4 mm, which cuts the hollow of the sellion short by some 2 mm.
    assert on_skin(marlo.face, marks["sellion"], control[0]) == pytest.approx(settings.nose_drop_mm, abs=2.5)
    mouth = on_skin(marlo.face, marks["cheilion_left"], control[3])
    assert mouth == pytest.approx(settings.mouth_margin_mm, rel=0.03)
    chin = on_skin(marlo.face, marks["menton"], control[5])
    assert chin == pytest.approx(settings.under_chin_mm, rel=0.06)
    alare = marlo.face.drop_on_skin(marks["alare_left"])
    assert control[2, 0] - alare[0] == pytest.approx(settings.wing_margin_mm, abs=0.2)
    assert control[5, 2] < marks["menton"][2]  # behind the menton, under the chin


def test_line_may_pass_in_front_of_the_chin(marlo) -> None:
    settings = SealLineSettings(chin="front")
    line = seal_line(marlo.face, marlo.landmarks, settings, 96, 6.75)
    assert not line.under_chin
    assert line.points[:, 2].min() > marlo.landmarks["menton"][2]


def test_distances_follow_the_size_of_the_face(marlo) -> None:
    fixed = SealLineSettings(follow_size=False)
    control, _ = propose_control_points(marlo.face, marlo.landmarks, BARE_LINE)
    size = np.linalg.norm(np.subtract(marlo.landmarks["sellion"], marlo.landmarks["menton"])) / 115.0
    grown = replace(
        fixed,
        **{
            name: getattr(fixed, name) * size
            for name in (
                "nose_drop_mm", "nose_flank_mm", "wing_margin_mm", "mouth_margin_mm",
                "chin_side_mm", "under_chin_mm", "chin_front_mm",
            )
        },
    )  # fmt: skip
    expected, _ = propose_control_points(marlo.face, marlo.landmarks, grown)
    assert control == pytest.approx(expected, abs=0.05)

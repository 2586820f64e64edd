"""Outlines from chosen faces: against circles on a ball, and the refusals of what has no one border."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from sealwright.errors import BadOutline
from sealwright.own_shapes.outline_of_faces import outline_of_faces

from .test_trim import tri

BALL = tri(trimesh.creation.icosphere(subdivisions=6, radius=75.0))  # edges of 1.2 to 1.5 mm
AWAY = np.hypot(*BALL.corners.mean(axis=1)[:, ::2].T)  # from the axis out of the face
FRONT = BALL.corners.mean(axis=1)[:, 1] < 0.0


def radius(line: np.ndarray) -> np.ndarray:
    return np.hypot(line[:, 0], line[:, 2])


def test_a_ring_of_faces_gives_its_two_circles():
    found = outline_of_faces(BALL, np.flatnonzero(FRONT & (AWAY < 30.0) & (AWAY > 10.0)))
    assert len(found.holes) == 1
    # centres of triangles end within half an edge of the circles; smoothing takes a tenth of a millimetre
    assert radius(found.outline) == pytest.approx(30.0, abs=0.8)
    assert radius(found.holes[0]) == pytest.approx(10.0, abs=0.8)
    assert radius(found.outline).mean() == pytest.approx(30.0, abs=0.3)
    assert radius(found.holes[0]).mean() == pytest.approx(10.0, abs=0.3)
    steps = np.linalg.norm(np.diff(found.outline, axis=0), axis=1)
    assert steps == pytest.approx(steps.mean(), rel=0.1)


def test_specks_of_the_brush_are_left_out():
    chosen = FRONT & (AWAY < 30.0)
    clean = outline_of_faces(BALL, np.flatnonzero(chosen))
    chosen[np.flatnonzero(chosen & (AWAY < 5.0))[0]] = False  # one face in the middle
    chosen[np.flatnonzero(FRONT & (AWAY > 50.0))[0]] = True  # one far away
    found = outline_of_faces(BALL, np.flatnonzero(chosen))
    assert found.holes == ()
    assert found.outline == pytest.approx(clean.outline)


def test_loops_that_touch_in_a_corner_stay_apart():
    """A plane of squares without two that touch in a corner: two holes, as they would be apart."""
    count = 40
    x, z = np.meshgrid(np.arange(count + 1.0), np.arange(count + 1.0))
    points = np.column_stack([2.0 * x.ravel(), np.zeros(x.size), 2.0 * z.ravel()])
    low = (np.arange(count)[:, None] * (count + 1) + np.arange(count)).ravel()
    faces = np.vstack([
        np.column_stack([low, low + 1, low + count + 2]),
        np.column_stack([low, low + count + 2, low + count + 1]),
    ])  # fmt: skip
    mesh = tri(trimesh.Trimesh(points, faces, process=False))
    at = mesh.corners.mean(axis=1)
    first = (np.abs(at[:, 0] - 30.0) < 8.0) & (np.abs(at[:, 2] - 30.0) < 8.0)
    second = (np.abs(at[:, 0] - 46.0) < 8.0) & (np.abs(at[:, 2] - 46.0) < 8.0)
    found = outline_of_faces(mesh, np.flatnonzero(~first & ~second))
    middles = sorted(hole[:, 0].mean() for hole in found.holes)
    assert middles == pytest.approx([30.0, 46.0], abs=0.1)


def test_a_scan_with_split_corners_is_joined_for_it():
    faces = np.arange(BALL.faces.size).reshape(-1, 3)
    soup = tri(trimesh.Trimesh(BALL.corners.reshape(-1, 3), faces, process=False))
    chosen = np.flatnonzero(FRONT & (AWAY < 30.0))
    assert len(outline_of_faces(soup, chosen).outline) == len(outline_of_faces(BALL, chosen).outline)


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        (np.zeros(0, dtype=np.int64), "No face"),
        (np.arange(len(BALL.faces)), "no border"),
        (np.flatnonzero(AWAY < 30.0), "2 pieces"),
    ],
)
def test_what_has_no_one_border_is_refused(chosen, words):
    with pytest.raises(BadOutline, match=words) as refusal:
        outline_of_faces(BALL, chosen)
    assert refusal.value.fix
    assert (refusal.value.where.point is not None) == (len(chosen) > 0)


def test_faces_that_are_turned_are_refused():
    chosen = np.flatnonzero(FRONT & (AWAY < 30.0))
    faces = BALL.faces.copy()
    faces[chosen[:1]] = faces[chosen[:1], ::-1]
    turned = tri(trimesh.Trimesh(BALL.vertices, faces, process=False))
    with pytest.raises(BadOutline, match="turned against"):
        outline_of_faces(turned, chosen)

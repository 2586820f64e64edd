"""Clicked places get their sides from the shape of the skin: any pose, either winding, either order."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from main_job.wearers import marlo_head
from sealwright.designing.prepare import prepare
from sealwright.errors import LandmarkMissing
from sealwright.mesh import TriMesh
from sealwright.progress import run_to_end
from sealwright.scan.pose.three_clicks import NAMES, named_clicks
from trials.faces import face_scan, random_pose, truth


def clicks(seed: int, off_mm: float = 6.0) -> list[np.ndarray]:
    """Marlo's true places, each off by 6 mm in some direction."""
    off = np.random.default_rng(seed).normal(size=(3, 3))
    off *= off_mm / np.linalg.norm(off, axis=1, keepdims=True)
    return [np.asarray(marlo_head().landmarks[name]) + o for name, o in zip(NAMES, off, strict=True)]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("swapped", [False, True])
def test_left_is_the_wearer_s_in_any_order(seed: int, swapped: bool) -> None:
    pose = random_pose(seed)
    left, right, tip = (pose[:3, :3] @ place + pose[:3, 3] for place in clicks(seed))
    mesh = marlo_head().mesh.moved(pose)
    mesh = TriMesh(mesh.vertices, mesh.faces[:, ::-1]) if seed % 2 else mesh  # the winding must not matter
    found = named_clicks(mesh, *((right, left) if swapped else (left, right)), tip)
    for name, place in zip(NAMES, (left, right, tip), strict=True):
        assert np.array_equal(found[name], place), name


@pytest.mark.parametrize("order", [(2, 0, 1), (1, 2, 0)])
def test_a_nose_in_place_of_an_eye_is_refused(order: tuple[int, int, int]) -> None:
    places = clicks(1, off_mm=1.0)
    with pytest.raises(LandmarkMissing, match="times as far from one eye"):
        named_clicks(marlo_head().mesh, *(places[k] for k in order))


def test_places_in_a_line_or_on_one_spot_are_refused() -> None:
    mesh, place = marlo_head().mesh, np.array([1.0, 2.0, 3.0])
    for places in ((place, place, place), (place, 2 * place, 3 * place), (place, 3 * place, 2 * place)):
        with pytest.raises(LandmarkMissing, match="in a line"):
            named_clicks(mesh, *places)


@pytest.mark.parametrize("radius_mm", [50.0, 90.0, 300.0])
def test_a_ball_has_no_nose(radius_mm: float) -> None:
    """trimesh's sphere, open at the back; it drops by an eighth of a nose's height over the same way."""
    ball = trimesh.creation.uv_sphere(radius_mm, count=[48, 48])
    front = ball.vertices[ball.faces].mean(axis=1)[:, 1] < 0.4 * radius_mm
    mesh = TriMesh(np.array(ball.vertices), np.array(ball.faces[front]))
    places = np.array([[45.0, -60.0, 50.0], [-45.0, -60.0, 50.0], [0.0, -90.0, 0.0]])
    places *= radius_mm / np.linalg.norm(places, axis=1, keepdims=True)
    with pytest.raises(LandmarkMissing, match="No nose stands out"):
        named_clicks(mesh, *places)


@pytest.mark.parametrize("name", ["head-mean", "head-a", "head-b", "head-c"])
@pytest.mark.parametrize("seed", range(4))
def test_every_open_head_has_a_nose_to_click(name: str, seed: int) -> None:
    off = np.random.default_rng(seed).normal(size=(3, 3))
    off *= 6.0 / np.linalg.norm(off, axis=1, keepdims=True)
    places = [truth(name)[key] + o for key, o in zip(NAMES, off, strict=True)]
    found = named_clicks(face_scan(name), *places)
    assert np.array_equal(found["pronasale"], places[2])
    assert np.array_equal(found["exocanthion_left"], places[0])


def test_clicks_give_the_pose_and_replace_no_landmark() -> None:
    turned = random_pose(3)
    mesh = marlo_head().mesh.moved(turned)
    places = [turned[:3, :3] @ place + turned[:3, 3] for place in clicks(3)]
    rough = {name: [float(c) for c in place] for name, place in named_clicks(mesh, *places).items()}
    found = run_to_end(prepare(mesh, bare_recipe(), rough=rough))
    back = np.linalg.inv(found.scan_to_design)
    tip = back[:3, :3] @ found.landmarks["pronasale"] + back[:3, 3]
    truth = turned[:3, :3] @ np.asarray(marlo_head().landmarks["pronasale"]) + turned[:3, 3]
    # 4 mm is what a landmark's confidence speaks of; the click was 6 mm off
    assert np.linalg.norm(tip - truth) < 4.0
    assert found.confidence["pronasale"] < 1.0  # proposed, not given
    assert any("given points" in remark.text for remark in found.remarks)
    assert 0.5 <= found.pose_confidence <= 1.0
    assert run_to_end(prepare(mesh, bare_recipe())).pose_confidence > 0.8  # a clean head, by itself

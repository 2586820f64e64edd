"""Loose things before the face are left out and said; loose pieces of the skin itself stay."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare_recipe
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.mesh import TriMesh, joined, trimesh_of
from sealwright.progress import run_to_end
from sealwright.scan.pose.orient import find_face, pose_from_landmarks
from sealwright.scan.pose.pose import outward
from sealwright.scan.reference.scale import scale_from_unit
from sealwright.scan.repair.clean import clean
from trials.campaign import base_heads
from trials.faces import COMPOSITES, HEADS, OTHERS, SENSORS, face_scan, random_pose

NAME, HEAD, MARKS = base_heads(8_000)[0]
MOVE = random_pose(8)


def ball(radius_mm: float, away_mm: tuple[float, float, float]) -> TriMesh:
    """A ball whose middle lies so far from subnasale: to the left, back and up."""
    import trimesh

    made = trimesh.creation.icosphere(4, radius_mm)
    return trimesh_of(made.vertices + MARKS["subnasale"] + np.array(away_mm), made.faces)


def prepared(mesh: TriMesh) -> Prepared:
    return run_to_end(prepare(mesh.moved(MOVE), bare_recipe(), None, scale_from_unit(mesh, "mm")))


@pytest.mark.costly
@pytest.mark.parametrize(
    ("radius_mm", "away_mm"),
    [(19.0, (-71.0, 12.0, -16.0)), (61.0, (-44.0, 7.0, -195.0)), (30.0, (20.0, -100.0, -30.0))],
    ids=["in the cheek", "under the chin", "before the mouth"],
)
def test_a_ball_before_the_face_is_left_out_and_said(
    radius_mm: float, away_mm: tuple[float, float, float]
) -> None:
    thing = ball(radius_mm, away_mm)
    with_it, without = prepared(joined(HEAD, thing)), prepared(HEAD)
    said = [remark for remark in with_it.remarks if "other things" in remark.text]
    assert [remark.level for remark in said] == ["warning"]
    assert f"1, {len(thing.faces)} triangles" in said[0].text
    # The remark points at the ball, in the scan.
    there = MOVE[:3, :3] @ thing.vertices.mean(axis=0) + MOVE[:3, 3]
    assert said[0].where.point == pytest.approx(there, abs=1e-6)
    # The skin is that of the head alone. 0.5 mm: the ball draws a few samples that the pose rests on.
    both = with_it.face.known & without.face.known
    off = np.abs(with_it.face.radii - without.face.radii)[both]
    assert both.sum() > 0.999 * without.face.known.sum()  # the border of the head shifts with the pose
    assert np.percentile(off, 95) < 0.5


def test_points_given_by_hand_leave_it_out_too() -> None:
    mesh = joined(HEAD, ball(30.0, (20.0, -100.0, -30.0)))
    given = {name: MARKS[name] for name in ("sellion", "cheilion_left", "cheilion_right", "menton")}
    pose = pose_from_landmarks(mesh, given)
    assert pose is not None and pose.apart is not None
    assert outward(mesh, pose).faces.shape == HEAD.faces.shape


def test_loose_pieces_of_the_skin_stay() -> None:
    """A face in two halves, a patch of it once more 4 mm before it, a thing that hides nothing."""
    centre = HEAD.corners.mean(axis=1)
    left = centre[:, 0] > 10.0
    apart = [HEAD.submesh(left), HEAD.submesh(~left)]
    cheek = np.linalg.norm(centre - MARKS["cheilion_left"], axis=1) < 25.0
    patch = HEAD.submesh(cheek)
    layer = trimesh_of(patch.vertices + np.array([0.0, -4.0, 0.0]), patch.faces)
    for mesh in (joined(*apart), joined(HEAD, layer), joined(HEAD, ball(40.0, (0.0, -300.0, 0.0)))):
        assert find_face(mesh).apart is None


@pytest.mark.scans
@pytest.mark.parametrize("name", HEADS[:1] + SENSORS + COMPOSITES[:1] + OTHERS)
def test_open_scans_keep_all_their_pieces(name: str) -> None:
    """The sensor scans have pieces of neck beside the face, the raw scan one of hair."""
    mesh, _ = clean(face_scan(name))
    assert find_face(mesh).apart is None

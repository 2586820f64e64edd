"""Invariant 6 of docs/design: a moved scan gives the moved design, a mirrored scan the mirrored design."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare_recipe
from scipy.spatial.transform import Rotation
from sealwright.designing.design import Design
from sealwright.designing.prepare import design, prepare
from sealwright.designing.prepared import Prepared
from sealwright.mesh import TriMesh
from sealwright.progress import run_to_end
from sealwright.recipe import ScanSettings
from sealwright.scan.read.mesh_file import read_scan

from .cases import scan_path
from .oracles import distance
from .wearers import marlo_head, random_pose

pytestmark = pytest.mark.heavy

SAME_MM = 1e-3  # the invariant's tolerance
MIRROR = np.array([-1.0, 1.0, 1.0])
NAMES = ("marlo", "face-m36", "raw-scan-a")


def made(mesh: TriMesh, quality: str = "preview") -> tuple[Prepared, Design]:
    prepared = run_to_end(prepare(mesh, bare_recipe()))
    return prepared, run_to_end(design(prepared, bare_recipe(), quality))


@pytest.fixture(scope="module", params=NAMES)
def scan(request, tmp_path_factory) -> TriMesh:
    """A scan in millimetres, so that rigid moves stay rigid."""
    mesh = read_scan(scan_path(request.param, tmp_path_factory.mktemp("scan"))).mesh
    return TriMesh(mesh.vertices * 1000.0, mesh.faces) if request.param == "marlo" else mesh


@pytest.fixture(scope="module")
def base(scan: TriMesh) -> tuple[Prepared, Design]:
    return made(scan)


@pytest.mark.parametrize("seed", [21])
def test_moved_scan_gives_the_same_design(scan: TriMesh, base: tuple[Prepared, Design], seed: int) -> None:
    """The design frame is the wearer's: the same design, and a transform that takes the move back."""
    move = random_pose(seed, 300.0)
    prepared, moved = made(scan.moved(move))
    assert prepared.scan_to_design @ move == pytest.approx(base[0].scan_to_design, abs=1e-6)
    shell, other = base[1].shell, moved.shell
    assert other.face_side == pytest.approx(shell.face_side, abs=SAME_MM)
    assert other.outer_side == pytest.approx(shell.outer_side, abs=SAME_MM)
    first, second = base[1].parts["body"], moved.parts["body"]
    assert second.volume == pytest.approx(first.volume, rel=1e-6)
    assert second.genus == first.genus
    # Vertices of one body lie on the other: the booleans may order and split triangles differently.
    assert distance(second.mesh.vertices, first.mesh).max() < SAME_MM
    assert distance(first.mesh.vertices, second.mesh).max() < SAME_MM


def test_mirrored_scan_gives_the_mirrored_design(scan: TriMesh, base: tuple[Prepared, Design]) -> None:
    """All but what must not mirror: the thread keeps its hand, so bosses are left out.

    Stations run to the wearer's left, so the mirrored grid runs the other way round from station 0.
    """
    mirrored = made(scan.moved(np.diag([1.0, 1.0, -1.0, 1.0])))[1]
    shell, other = base[1].shell, mirrored.shell
    back = np.roll(other.face_side[::-1], 1, axis=0) * MIRROR
    assert back == pytest.approx(shell.face_side, abs=SAME_MM)
    back = np.roll(other.outer_side[::-1], 1, axis=0) * MIRROR
    assert back == pytest.approx(shell.outer_side, abs=SAME_MM)
    line = np.roll(mirrored.seal_line.points[::-1], 1, axis=0) * MIRROR
    assert line == pytest.approx(base[1].seal_line.points, abs=SAME_MM)
    assert mirrored.void.volume == pytest.approx(base[1].void.volume, rel=2e-3)
    spots, seen = (np.array([p.frame[:3, 3] for p in d.straps]) for d in (base[1], mirrored))
    assert seen[[1, 0, 3, 2]] * MIRROR == pytest.approx(spots, abs=SAME_MM)


def test_landmarks_and_solids_are_the_same_from_another_unit(
    scan: TriMesh, base: tuple[Prepared, Design]
) -> None:
    inches = TriMesh(scan.vertices / 25.4, scan.faces)
    prepared = run_to_end(prepare(inches, bare_recipe()))
    assert prepared.unit == "in"
    assert prepared.scan_to_design[:3, :3] / 25.4 == pytest.approx(base[0].scan_to_design[:3, :3], abs=1e-9)
    for name, point in base[0].landmarks.items():
        assert prepared.landmarks[name] == pytest.approx(point, abs=1e-6)


def test_order_of_triangles_and_vertices_matters_little(scan: TriMesh, base: tuple[Prepared, Design]) -> None:
    rng = np.random.default_rng(5)
    place, row = rng.permutation(len(scan.vertices)), rng.permutation(len(scan.faces))
    where = np.argsort(place).astype(np.int32)
    shuffled = TriMesh(scan.vertices[place], np.ascontiguousarray(where[scan.faces[row]]))
    prepared = run_to_end(prepare(shuffled, bare_recipe()))
    # The face is searched on every few vertex, so landmarks move within their own uncertainty; the
    # demand on them is 6 mm. The frame, which rests on all of them, turns by less than half a degree.
    for name, point in base[0].landmarks.items():
        assert np.linalg.norm(prepared.landmarks[name] - point) < 4.0, name
    turn = Rotation.from_matrix(prepared.scan_to_design[:3, :3] @ base[0].scan_to_design[:3, :3].T)
    assert np.degrees(turn.magnitude()) < 0.5


def test_wearer_scale_grows_the_face_and_nothing_else() -> None:
    mesh = marlo_head().mesh
    small, large = (
        run_to_end(prepare(mesh, bare_recipe(scan=ScanSettings(wearer_scale=factor))))
        for factor in (1.0, 1.01)
    )
    for name, point in small.landmarks.items():
        assert large.landmarks[name] == pytest.approx(1.01 * point, abs=1e-6)
    assert large.scan_to_design[:3, :3] == pytest.approx(1.01 * small.scan_to_design[:3, :3], abs=1e-9)
    assert large.wearer_scale == 1.01

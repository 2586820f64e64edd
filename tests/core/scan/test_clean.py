"""Every repair fires where it should, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import ClosedSolid, NoSurface
from sealwright.mesh import TriMesh, edge_use, joined, trimesh_of
from sealwright.scan.repair.clean import clean
from trials.faces import COMPOSITES, HEADS, OTHERS, SENSORS, face_scan, random_pose
from trials.shapes import changes, sheet, with_faces


def test_a_clean_sheet_comes_back_as_it_is() -> None:
    mesh = sheet()
    cleaned, report = clean(mesh)
    assert cleaned is mesh
    assert changes(report) == {}
    assert report.remarks == ()
    assert (report.pieces, report.closed) == (1, False)


@pytest.mark.scans
@pytest.mark.parametrize("name", (*HEADS, "sculpt-a", "sculpt-small-closed", "face-f26"))
def test_clean_heads_come_back_as_they_are(name: str) -> None:
    """Noses, lips and ears are no spikes, mouth bags no fins, the open neck no damage."""
    mesh = face_scan(name)
    cleaned, report = clean(mesh)
    assert changes(report) == {}
    assert cleaned is mesh


def test_equal_vertices_are_merged() -> None:
    mesh = sheet()
    soup = trimesh_of(mesh.corners.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3))
    cleaned, report = clean(soup)
    assert changes(report) == {"merged_vertices": 3 * len(mesh.faces) - len(mesh.vertices)}
    assert len(cleaned.vertices) == len(mesh.vertices)
    assert cleaned.corners == pytest.approx(mesh.corners, abs=0.0)


def cut_sheet(gap_mm: float) -> TriMesh:
    """A sheet cut along x = 40 mm whose right part was moved away."""
    mesh = sheet()
    left = mesh.corners.mean(axis=1)[:, 0] < 40.0
    right = mesh.submesh(~left)
    return joined(mesh.submesh(left), trimesh_of(right.vertices + np.array([gap_mm, 0.0, 0.0]), right.faces))


def test_open_seam_is_closed_and_a_wider_gap_is_not() -> None:
    _, closed = clean(cut_sheet(0.004))
    assert changes(closed) == {"merged_vertices": 31}
    assert closed.pieces == 1
    _, gap = clean(cut_sheet(0.05))
    assert changes(gap) == {}
    assert gap.pieces == 2


def test_fine_triangles_at_a_border_do_not_collapse() -> None:
    mesh = sheet(30, 30, 0.008)  # edges shorter than the seam limit
    cleaned, _ = clean(mesh)
    assert len(cleaned.faces) == len(mesh.faces)


def test_degenerate_triangles_are_dropped_and_needles_stay() -> None:
    mesh = sheet()
    a, b = mesh.vertices[0], mesh.vertices[1]
    outside = np.stack([a - [5, 0, 0], a - [6, 0, 0], a - [7, 0, 0]])
    n = len(mesh.vertices)
    bad = with_faces(mesh, outside, np.array([[3, 3, 4], [n, n + 1, n + 2]]))
    cleaned, report = clean(bad)
    assert changes(report) == {"degenerate_faces": 2}
    assert len(cleaned.faces) == len(mesh.faces)
    needle = with_faces(mesh, np.array([0.5 * (a + b) - [0, 1e-4, 0]]), np.array([[1, 0, n]]))
    assert changes(clean(needle)[1]) == {}


@pytest.mark.parametrize("turned", [False, True])
def test_double_triangles_are_dropped(turned: bool) -> None:
    mesh = sheet()
    patch = mesh.faces[100:160]
    double = trimesh_of(mesh.vertices, np.vstack([mesh.faces, patch[:, ::-1] if turned else patch]))
    cleaned, report = clean(double)
    assert changes(report) == {"duplicate_faces": 60}
    assert (cleaned.faces == mesh.faces).all()


def test_second_layer_close_by_is_no_double() -> None:
    """A face scanned twice: which layer is true is not known here, so both stay."""
    mesh = sheet()
    patch = mesh.submesh(np.arange(len(mesh.faces)) < 600)
    layer = trimesh_of(patch.vertices + np.array([0.0, 0.0, 0.05]), patch.faces)
    cleaned, report = clean(joined(mesh, layer))
    assert changes(report) == {}
    assert report.pieces == 2
    assert len(cleaned.faces) == len(mesh.faces) + 600


def test_fins_are_dropped_and_what_ends_nowhere_stays() -> None:
    mesh = sheet()
    n = len(mesh.vertices)
    edge = mesh.vertices[[210, 211]]
    fin = with_faces(mesh, edge + np.array([0.0, 0.0, 3.0]), np.array([[210, 211, n + 1], [210, n + 1, n]]))
    cleaned, report = clean(fin)
    assert changes(report) == {"fin_faces": 2}
    assert len(cleaned.faces) == len(mesh.faces)
    # A tent over two squares hangs on non-manifold edges all round and has no free end: which sheet is skin
    # cannot be told, so it stays and is said.
    w = 41
    corners = np.array([210, 211, 211 + w, 210 + w])
    top = mesh.vertices[corners].mean(axis=0)[None] + [0, 0, 0.4]
    tent = with_faces(mesh, top, np.stack([corners, np.roll(corners, -1), np.full(4, n)], axis=1))
    kept, said = clean(tent)
    assert len(kept.faces) == len(tent.faces)
    assert changes(said) == {"nonmanifold_edges": 4}
    assert said.remarks[0].level == "warning"


def test_turned_patches_are_turned_back() -> None:
    mesh = sheet()
    centre = mesh.corners.mean(axis=1)
    turned = (np.linalg.norm(centre[:, :2] - [40, 30], axis=1) < 12) | (centre[:, 0] < 6)
    faces = np.where(turned[:, None], mesh.faces[:, ::-1], mesh.faces)
    cleaned, report = clean(trimesh_of(mesh.vertices, faces))
    assert changes(report) == {"turned_faces": int(turned.sum())}
    assert cleaned.face_normals[:, 2].min() > 0.5
    # The larger part keeps its winding, also where that is the wrong one: the face decides later.
    _, flipped = clean(trimesh_of(mesh.vertices, mesh.faces[:, ::-1]))
    assert changes(flipped) == {}


def test_moebius_strip_is_named() -> None:
    import trimesh

    around = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    half = np.array([-8.0, 0.0, 8.0])
    a, h = np.meshgrid(around, half, indexing="ij")
    radius = 60 + h * np.cos(a / 2)
    v = np.stack([radius * np.cos(a), radius * np.sin(a), h * np.sin(a / 2)], axis=-1).reshape(-1, 3)
    faces = []
    for i in range(60):
        for j in range(2):
            here, there = 3 * i, 3 * ((i + 1) % 60)
            p, q, r, s = here + j, here + j + 1, there + j + 1, there + j
            if i == 59:
                r, s = there + 1 - j, there + 2 - j
            faces += [[p, s, r], [p, r, q]]
    strip = trimesh_of(v, np.array(faces))
    assert not trimesh.Trimesh(v, faces, process=False).is_winding_consistent  # an independent witness
    _, report = clean(strip)
    assert report.one_sided_edges > 0


def test_islands_are_dropped_by_size_and_the_largest_never() -> None:
    mesh = sheet()
    small, large = sheet(4, 4, 2.0), sheet(7, 7, 2.0)  # 64 and 196 mm2
    away = np.array([0.0, 0.0, 40.0])
    both = joined(
        mesh,
        trimesh_of(small.vertices + away, small.faces),
        trimesh_of(large.vertices + 2 * away, large.faces),
    )
    cleaned, report = clean(both)
    assert changes(report) == {"islands": 1, "island_faces": 32}
    assert report.pieces == 2
    assert len(cleaned.faces) == len(mesh.faces) + len(large.faces)
    assert changes(clean(small)[1]) == {}


@pytest.mark.scans
@pytest.mark.parametrize("name", [SENSORS[1], OTHERS[0], COMPOSITES[1]])
def test_cleaning_moves_with_the_scan(name: str) -> None:
    mesh, move = face_scan(name), random_pose(6)
    cleaned, report = clean(mesh)
    moved, same = clean(mesh.moved(move))
    assert same.spikes == report.spikes
    assert same.islands == report.islands
    # 1e-9 mm: rounding.
    assert moved.vertices == pytest.approx(cleaned.moved(move).vertices, abs=1e-9)
    again, nothing = clean(cleaned)
    assert nothing.turned_faces == nothing.islands == nothing.degenerate_faces == 0
    assert len(again.faces) == len(cleaned.faces)


def test_all_at_once_gives_back_the_sheet() -> None:
    mesh = sheet()
    n = len(mesh.vertices)
    turned = np.arange(len(mesh.faces)) % 97 == 0
    faces = np.where(turned[:, None], mesh.faces[:, ::-1], mesh.faces)
    fin = np.array([[210, 211, n], [5, 5, 6]])
    bad = with_faces(trimesh_of(mesh.vertices, faces), mesh.vertices[[210]] + [0, 0, 2.0], fin)
    bad = trimesh_of(bad.vertices, np.vstack([bad.faces, mesh.faces[300:330]]))
    cleaned, _ = clean(bad)
    edges, forward, backward = edge_use(cleaned.faces)
    assert len(cleaned.faces) == len(mesh.faces)
    assert (forward <= 1).all()
    assert (backward <= 1).all()
    assert len(edges) == 3 * 40 * 30 + 40 + 30  # squares with one diagonal


def test_nothing_but_degenerate_triangles() -> None:
    line = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])
    with pytest.raises(NoSurface):
        clean(TriMesh(line, np.array([[0, 1, 2]], dtype=np.int32)))


@pytest.mark.scans
def test_thickened_face_is_refused_and_a_closed_head_is_not() -> None:
    assert clean(face_scan("sculpt-small-closed"))[1].closed
    mesh = sheet()
    back = trimesh_of(mesh.vertices - [0, 0, 3.0], mesh.faces[:, ::-1])
    both = joined(mesh, back)
    edges, forward, backward = edge_use(mesh.faces)
    rim = edges[(forward + backward) == 1]
    n = len(mesh.vertices)
    flip = forward[(forward + backward) == 1] == 1
    a, b = np.where(flip, rim[:, 1], rim[:, 0]), np.where(flip, rim[:, 0], rim[:, 1])
    walls = np.vstack([np.stack([a, b, b + n], 1), np.stack([a, b + n, a + n], 1)])
    shell = trimesh_of(both.vertices, np.vstack([both.faces, walls]))
    with pytest.raises(ClosedSolid) as caught:
        clean(shell)
    # The rim adds area to a 3 mm sheet, so the mean thickness is a little less.
    assert "about 2." in caught.value.what

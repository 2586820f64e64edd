"""Soundness against pymeshlab's self-intersection selection, trimesh's closedness, and hand-made faults."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
import pymeshlab
import pytest
import trimesh
from sealwright.errors import BadSolid
from sealwright.mesh import TriMesh, joined, trimesh_of
from sealwright.solids import crossings
from sealwright.solids.crossings import crossing_pairs
from sealwright.solids.grid import is_degenerate, snap_to_grid
from sealwright.solids.soundness import require_sound, soundness_of
from trials.places import open_data


def taken(native: manifold3d.Manifold) -> TriMesh:
    raw = native.to_mesh64()
    return trimesh_of(np.array(raw.vert_properties[:, :3]), np.array(raw.tri_verts, dtype=np.int64))


@cache
def bored_shell(segments: int) -> TriMesh:
    """A 3 mm spherical shell cut by a cylinder: genus 0 (one hole joins the two skins)."""
    shell = manifold3d.Manifold.sphere(40, segments) - manifold3d.Manifold.sphere(37, segments)
    return taken(shell - manifold3d.Manifold.cylinder(100, 15, 15, 128))


def meshlab_crossing_faces(mesh: TriMesh) -> int:
    scene = pymeshlab.MeshSet()
    # float32 coordinates: on float64 boolean results its own test reports pairs that are exactly apart.
    scene.add_mesh(pymeshlab.Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.faces))
    scene.compute_selection_by_self_intersections_per_face()
    return scene.current_mesh().selected_face_number()


def our_crossing_faces(mesh: TriMesh) -> int:
    rounded = trimesh_of(mesh.vertices.astype(np.float32), mesh.faces)
    return len(np.unique(crossing_pairs(rounded)))


def test_sound_body_has_no_fault() -> None:
    mesh = bored_shell(64)
    found = soundness_of(mesh, "shell", expected_genus=0)
    assert found.problems == () and found.sound
    assert found.crossings == 0 and found.pieces == 1
    outside = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert outside.is_watertight and outside.is_winding_consistent
    # Same divergence theorem in two libraries: only summation order differs.
    assert found.volume_mm3 == pytest.approx(outside.volume, rel=1e-9)


@pytest.mark.parametrize("holes", [0, 1, 2, 5])
def test_genus_counts_through_holes(holes: int) -> None:
    plate = manifold3d.Manifold.cube((60, 10, 4))
    for index in range(holes):
        plate -= manifold3d.Manifold.cylinder(10, 3, 3, 24).translate((8 + 11 * index, 5, -2))
    mesh = taken(plate)
    found = soundness_of(mesh, "plate", expected_genus=holes)
    assert found.genus == holes and found.sound
    # Euler's formula by trimesh: V - E + F = 2 - 2 g.
    assert trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).euler_number == 2 - 2 * holes
    assert not soundness_of(mesh, "plate", expected_genus=holes + 1).sound


def test_open_nonmanifold_and_inconsistent_edges_are_counted() -> None:
    mesh = bored_shell(64)
    opened = TriMesh(mesh.vertices, mesh.faces[1:].copy())
    assert soundness_of(opened, "shell").open_edges == 3
    crowded = TriMesh(mesh.vertices, np.vstack([mesh.faces, mesh.faces[:1, ::-1]]))
    assert soundness_of(crowded, "shell").nonmanifold_edges == 3
    turned_faces = mesh.faces.copy()
    turned_faces[0] = turned_faces[0, ::-1]
    assert soundness_of(TriMesh(mesh.vertices, turned_faces), "shell").inconsistent_edges == 3


def test_inside_out_and_two_pieces_and_void() -> None:
    mesh = bored_shell(64)
    assert any("inside out" in p for p in soundness_of(mesh.flipped(), "shell").problems)
    two = joined(mesh, trimesh_of(mesh.vertices + np.array([200.0, 0, 0]), mesh.faces))
    assert soundness_of(two, "pair").pieces == 2
    void = taken(
        manifold3d.Manifold.cube((10, 10, 10)) - manifold3d.Manifold.sphere(3, 16).translate((5, 5, 5))
    )
    assert soundness_of(void, "cube with a void").pieces == 2


def test_nonmanifold_vertex_where_two_cones_touch() -> None:
    cube = trimesh.creation.box((2, 2, 2))
    faces = np.vstack([cube.faces, cube.faces + 8])
    vertices = np.vstack([cube.vertices, cube.vertices + 2.0])
    faces[faces == 8 + int(np.lexsort(cube.vertices.T)[0])] = int(np.lexsort(cube.vertices.T)[-1])
    found = soundness_of(trimesh_of(vertices, faces), "two cubes")
    assert found.nonmanifold_vertices == 1
    assert found.places_mm[0] == (1.0, 1.0, 1.0)


@pytest.mark.parametrize("depth", [1e-3, 0.05, 5.0])
def test_planted_spike_through_the_wall_is_found_as_by_meshlab(depth: float) -> None:
    mesh = bored_shell(64)
    vertices = mesh.vertices.copy()
    inner = np.linalg.norm(vertices, axis=1) < 37.5
    tip = int(np.flatnonzero(inner & (vertices[:, 2] < -30))[0])
    vertices[tip] *= (40.0 + depth) / np.linalg.norm(vertices[tip])
    spiked = trimesh_of(vertices, mesh.faces)
    assert our_crossing_faces(spiked) == meshlab_crossing_faces(spiked) > 0
    assert not soundness_of(spiked, "shell").sound


def test_fold_over_a_shared_edge_is_found() -> None:
    # Two triangles on the same side of their common edge, in one plane: meshlab leaves shared edges out.
    flat = trimesh_of([[0, 0, 0], [4, 0, 0], [2, 3, 0], [2, 2, 0]], [[0, 1, 2], [1, 0, 3]])
    assert crossing_pairs(flat).tolist() == [[0, 1]]
    apart = trimesh_of([[0, 0, 0], [4, 0, 0], [2, 3, 0], [2, -2, 0]], [[0, 1, 2], [1, 0, 3]])
    assert len(crossing_pairs(apart)) == 0


@pytest.mark.parametrize(
    ("second", "meets"),
    [
        ([[1, 1, -1], [1, 1, 1], [9, 9, 0]], True),  # an edge goes through
        ([[1, 1, 0], [1, 1, 1], [2, 1, 1]], True),  # a corner touches from above
        ([[1, 1, 1e-3], [1, 1, 1], [2, 1, 1]], False),
        ([[1, 1, 0], [2, 1, 0], [1, 2, 0]], True),  # lies flat inside
        ([[-5, -5, 0], [20, -5, 0], [-5, 20, 0]], True),  # lies flat around
        ([[7, 7, 0], [9, 7, 0], [7, 9, 0]], False),  # flat, beyond the slanting edge, boxes overlap
        ([[4, -1, 0], [5, -1, 0], [4.5, 9, 0]], True),  # flat, crosses edges only
        ([[2, 0, 0], [3, -1, 0], [1, -1, 0]], True),  # flat, a corner touches an edge
    ],
)
def test_pairs_without_a_shared_corner(second: list[list[float]], meets: bool) -> None:
    mesh = trimesh_of([[0, 0, 0], [8, 0, 0], [0, 8, 0], *second], [[0, 1, 2], [3, 4, 5]])
    assert len(crossing_pairs(mesh)) == int(meets)
    swapped = trimesh_of(mesh.vertices, mesh.faces[::-1].copy())
    assert len(crossing_pairs(swapped)) == int(meets)


@pytest.mark.parametrize(
    ("far", "meets"),
    [
        ([[2, 2, 1], [2, 2, -1]], True),  # the far edge goes through
        ([[2, 2, 1], [2, 3, 1]], False),
        ([[-2, 1, 0], [-1, -2, 0]], False),  # flat, beside
        ([[2, 2, 0], [-3, 5, 0]], True),  # flat, sectors overlap
        ([[4, 0, 0], [3, -3, 0]], True),  # flat, lies along an edge without sharing its end
    ],
)
def test_pairs_with_a_shared_corner(far: list[list[float]], meets: bool) -> None:
    mesh = trimesh_of([[0, 0, 0], [8, 0, 0], [0, 8, 0], *far], [[0, 1, 2], [0, 3, 4]])
    assert len(crossing_pairs(mesh)) == int(meets)


def brute_force_meets(one: list[list[int]], two: list[list[int]]) -> bool:
    """Do triangles of whole numbers without a common corner meet? Every edge against the other triangle."""
    return any(edge_meets(a[i], a[(i + 1) % 3], b) for a, b in ((one, two), (two, one)) for i in range(3))


def side(a: list[int], b: list[int], c: list[int], p: list[int]) -> int:
    """Sign of the determinant (Python's whole numbers never overflow): textbook orientation."""
    u, v, w = ([x - y for x, y in zip(q, a, strict=True)] for q in (b, c, p))
    found = (
        (u[1] * v[2] - u[2] * v[1]) * w[0]
        + (u[2] * v[0] - u[0] * v[2]) * w[1]
        + (u[0] * v[1] - u[1] * v[0]) * w[2]
    )
    return (found > 0) - (found < 0)


def edge_meets(p: list[int], q: list[int], t: list[list[int]]) -> bool:
    """Closed edge against closed triangle; an edge in the plane is left to the other edges."""
    ends = side(*t, p), side(*t, q)
    if ends[0] * ends[1] > 0 or ends == (0, 0):
        return False
    round_about = [side(p, q, t[i], t[(i + 1) % 3]) for i in range(3)]
    return min(round_about) >= 0 or max(round_about) <= 0


def test_random_triangles_against_exact_brute_force() -> None:
    # Small whole numbers make touching edges, corners and planes frequent; pairs in one plane are left out.
    rng = np.random.default_rng(5)
    points = rng.integers(0, 9, (240, 3))
    faces = np.arange(240).reshape(80, 3)
    found = {tuple(pair) for pair in crossing_pairs(trimesh_of(points.astype(float), faces)).tolist()}
    corners = points[faces].tolist()
    meets = misses = 0
    for i in range(80):
        for j in range(i + 1, 80):
            one, two = corners[i], corners[j]
            if all(side(*one, p) == 0 for p in two) or all(side(*two, p) == 0 for p in one):
                continue
            expected = brute_force_meets(one, two)
            assert ((i, j) in found) == expected, (one, two)
            meets, misses = meets + expected, misses + (not expected)
    assert meets > 200 and misses > 1000


def test_corners_at_one_place_and_triangles_on_each_other_are_crossings() -> None:
    # CGAL by itself takes these for shared corners and for one triangle.
    touching = [[0, 0, 0], [4, 0, 0], [2, 3, 0], [0, 0, 0], [-4, 0, 1], [-2, -3, 1]]
    assert crossing_pairs(trimesh_of(touching, [[0, 1, 2], [3, 4, 5]])).tolist() == [[0, 1]]
    assert crossing_pairs(trimesh_of(touching, [[0, 1, 2], [0, 4, 5]])).tolist() == []
    assert crossing_pairs(trimesh_of(touching[:3], [[0, 1, 2], [1, 0, 2]])).tolist() == [[0, 1]]


def test_degenerate_triangles_are_named_exactly() -> None:
    a, b = np.array([[0.0, 0, 0]] * 2), np.array([[2.0**29, 2.0**29, 2.0**29]] * 2)
    c = np.array([[2.0**28] * 3, [2.0**28, 2.0**28, 2.0**28 + 1]])
    assert is_degenerate(a, b, c).tolist() == [True, False]


def test_grid_step_is_finer_than_the_file() -> None:
    _, step = snap_to_grid(np.array([[0.0, 0, 0], [200.0, 10, 10]]))
    assert step < np.spacing(np.float32(200.0)) / 30


def test_refusal_names_fault_and_place() -> None:
    mesh = bored_shell(64)
    with pytest.raises(BadSolid) as caught:
        require_sound(TriMesh(mesh.vertices, mesh.faces[1:].copy()), "body")
    assert "3 open edges" in caught.value.what and caught.value.where.point is not None
    assert caught.value.where.role == "body"


def test_fine_body_is_sound() -> None:
    mesh = bored_shell(400)
    assert len(mesh.faces) > 150_000
    assert soundness_of(mesh, "shell", expected_genus=0).sound
    assert meshlab_crossing_faces(mesh) == 0


@pytest.mark.scans
@pytest.mark.parametrize("name", ["head-mean", "face-f26", "raw-scan-a", "sculpt-a", "sensor-scan-a"])
def test_real_scans_give_the_same_crossing_triangles_as_meshlab(name: str) -> None:
    loaded = trimesh.load(open_data(name))
    mesh = trimesh_of(loaded.vertices, loaded.faces)
    assert our_crossing_faces(mesh) == meshlab_crossing_faces(mesh)


@pytest.mark.parametrize("seed", range(3))
def test_crossings_are_the_same_in_one_piece_and_in_many(seed: int, monkeypatch) -> None:
    """Loose triangles as dense as crossing needs; the one call of CGAL for all of them is the oracle."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(0, 20, (600, 1, 3)) + rng.normal(0, 1.0, (600, 3, 3))
    faces = np.arange(1800, dtype=np.int32).reshape(-1, 3)
    found = []
    for at_once in (10_000, 200, 37):
        monkeypatch.setattr(crossings, "_AT_ONCE", at_once)
        found.append(crossings.crossing_pairs(TriMesh(corners.reshape(-1, 3), faces)))
    assert len(found[0]) > 20
    assert all(np.array_equal(found[0], other) for other in found[1:])

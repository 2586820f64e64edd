"""STL: layout by the format's arithmetic, closedness by trimesh, rounding faults planted by hand."""

from __future__ import annotations

import io
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from sealwright.errors import BadSolid, UnwritableFile
from sealwright.export.atomic import write_file, write_files
from sealwright.export.rounding import rounded_part
from sealwright.export.stl import stl_bytes
from sealwright.mesh import TriMesh, trimesh_of


def taken(native: manifold3d.Manifold) -> TriMesh:
    raw = native.to_mesh64()
    return trimesh_of(np.array(raw.vert_properties[:, :3]), np.array(raw.tri_verts, dtype=np.int64))


@pytest.fixture(scope="module")
def part() -> TriMesh:
    shell = manifold3d.Manifold.sphere(40, 96) - manifold3d.Manifold.sphere(37, 96)
    return taken((shell - manifold3d.Manifold.cylinder(100, 15, 15, 96)).translate((0.1, 70.3, -33.3)))


def read_back(data: bytes) -> trimesh.Trimesh:
    return trimesh.load(io.BytesIO(data), file_type="stl", process=True)


def test_layout_of_the_file(part: TriMesh) -> None:
    data = stl_bytes(part, "body")
    # 80-byte header, uint32 count, 50 bytes a triangle (format from memory; 1000 triangles = 50,084 bytes).
    assert len(data) == 84 + 50 * len(part.faces)
    assert int.from_bytes(data[80:84], "little") == len(part.faces)
    assert not data.startswith(b"solid") and b"mm" in data[:80]
    record = np.frombuffer(data[84:134], dtype="<f4", count=12)
    corners = record[3:].reshape(3, 3).astype(np.float64)
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    # Unit normal by the right-hand rule; float32 carries about seven digits.
    assert np.allclose(record[:3], normal / np.linalg.norm(normal), atol=1e-6)


def test_a_thousand_triangles_are_50084_bytes() -> None:
    ring = trimesh.creation.annulus(r_min=5, r_max=9, height=3, sections=125)
    assert len(ring.faces) == 1000
    assert len(stl_bytes(trimesh_of(ring.vertices, ring.faces), "ring")) == 50_084


def test_read_back_closed_with_the_same_volume(part: TriMesh) -> None:
    mesh = read_back(stl_bytes(part, "body"))
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
    # float32 steps at 110 mm are 7.6e-6 mm; over the whole area of both skins that is at most 0.4 mm3.
    assert mesh.volume == pytest.approx(part.volume, abs=0.4)
    assert len(mesh.vertices) == len(part.vertices)


def test_two_runs_give_the_same_bytes(part: TriMesh) -> None:
    assert stl_bytes(part, "body") == stl_bytes(trimesh_of(part.vertices.copy(), part.faces.copy()), "body")


def split_edge(mesh: TriMesh, face: int, share: float, lift_mm: float = 0.0) -> TriMesh:
    """A vertex put on the first edge of a face, both triangles there cut in two."""
    a, b, c = mesh.faces[face]
    other = next(k for k, f in enumerate(mesh.faces) if k != face and {int(a), int(b)} <= {int(i) for i in f})
    d = next(int(i) for i in mesh.faces[other] if i not in (a, b))
    new = len(mesh.vertices)
    point = (1 - share) * mesh.vertices[a] + share * mesh.vertices[b] + lift_mm * mesh.face_normals[face]
    faces = np.delete(mesh.faces, [face, other], axis=0)
    added = [[a, new, c], [new, b, c], [b, new, d], [new, a, d]]
    return trimesh_of(np.vstack([mesh.vertices, point]), np.vstack([faces, added]))


def test_vertices_that_fall_together_are_welded(part: TriMesh) -> None:
    # A vertex 1e-9 mm beside another is the same float32 number.
    cut = split_edge(part, 100, share=1e-9)
    naive = cut.vertices.astype(np.float32)
    assert len(np.unique(naive, axis=0)) == len(cut.vertices) - 1
    mesh = read_back(stl_bytes(cut, "body"))
    assert mesh.is_watertight and len(mesh.faces) == len(part.faces)
    assert (mesh.area_faces > 0).all()


def test_needle_that_turns_flat_is_removed() -> None:
    cube = trimesh.creation.box((100, 100, 100))
    cube = trimesh_of(cube.vertices + 50.0, cube.faces)
    edge_face = next(
        k for k in range(12) if np.ptp(cube.vertices[cube.faces[k, :2]], axis=0).astype(bool).sum() == 1
    )
    # The middle of a cube edge, lifted by less than a float32 step, gives exactly flat triangles.
    cut = split_edge(cube, edge_face, share=0.5, lift_mm=1e-7)
    rounded = rounded_part(cut, "cube")
    assert rounded.face_areas.min() > 0
    assert trimesh.Trimesh(rounded.vertices, rounded.faces, process=False).is_watertight
    # Nothing moved by more than the first simplification step of 2e-5 mm times the face area.
    assert rounded.volume == pytest.approx(1e6, abs=0.3)
    assert np.array_equal(rounded.vertices, rounded.vertices.astype(np.float32))


def test_surfaces_closer_than_a_float32_step_are_refused() -> None:
    # Two cubes 1e-7 mm apart at 128 mm, joined by a bridge: rounding would weld their faces.
    left = manifold3d.Manifold.cube((28, 10, 10)).translate((100, 0, 0))
    right = manifold3d.Manifold.cube((28, 10, 10)).translate((128 + 1e-7, 0, 0))
    bridge = manifold3d.Manifold.cube((56, 4, 4)).translate((100, 3, 12))
    posts = [manifold3d.Manifold.cube((4, 4, 4)).translate((x, 3, 9)) for x in (101, 150)]
    joined = manifold3d.Manifold.batch_boolean([left, right, bridge, *posts], manifold3d.OpType.Add)
    mesh = taken(joined)
    assert len(joined.decompose()) == 1 and joined.genus() == 0  # one open clip
    with pytest.raises(BadSolid) as caught:
        stl_bytes(mesh, "clip")
    assert "rounding" in caught.value.what and caught.value.where.point is not None


def test_open_and_inside_out_parts_are_refused(part: TriMesh) -> None:
    with pytest.raises(BadSolid, match="3 open edges"):
        stl_bytes(TriMesh(part.vertices, part.faces[1:].copy()), "body")
    with pytest.raises(BadSolid, match="inside out"):
        stl_bytes(part.flipped(), "body")


def test_refused_part_leaves_no_file(part: TriMesh, tmp_path: Path) -> None:
    with pytest.raises(BadSolid):
        write_file(tmp_path / "body.stl", stl_bytes(part.flipped(), "body"))
    assert list(tmp_path.iterdir()) == []


def test_files_are_written_whole_or_not_at_all(tmp_path: Path) -> None:
    write_file(tmp_path / "a" / "one.bin", b"old")
    blocked = tmp_path / "file"
    blocked.write_bytes(b"")
    with pytest.raises(UnwritableFile) as caught:
        write_files({tmp_path / "a" / "one.bin": b"new", blocked / "two.bin": b"x"})
    assert "two.bin" in caught.value.what
    assert (tmp_path / "a" / "one.bin").read_bytes() == b"old"
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["one.bin"]
    write_files({tmp_path / "a" / "one.bin": b"new", tmp_path / "two.bin": b"x"})
    assert (tmp_path / "a" / "one.bin").read_bytes() == b"new"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "file", "two.bin"]

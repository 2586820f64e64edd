"""The door for files: every format in, every damage named."""

from __future__ import annotations

import struct
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from sealwright.errors import BadNumbers, DesignError, NoSurface, UnreadableFile
from sealwright.mesh import TriMesh, edge_use, trimesh_of
from sealwright.scan.read.mesh_file import read_scan, scan_from_bytes
from trials.faces import scan_path
from trials.places import ROOT


def patch() -> TriMesh:
    """A bumpy sheet of 20 x 15 squares, as an open scan."""
    x, y = np.meshgrid(np.arange(21.0), np.arange(16.0))
    z = np.sin(x * 0.7) + np.cos(y * 0.9)
    v = np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1)
    a = (np.arange(20)[None] + 21 * np.arange(15)[:, None]).ravel()
    return trimesh_of(v, np.vstack([np.stack([a, a + 1, a + 22], 1), np.stack([a, a + 22, a + 21], 1)]))


def exported(mesh: TriMesh, kind: str) -> bytes:
    import trimesh

    data = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(file_type=kind)
    return data.encode() if isinstance(data, str) else bytes(data)


@pytest.mark.parametrize(
    ("kind", "ending", "said"),
    [
        ("stl", "stl", "STL binary"),
        ("stl_ascii", "stl", "STL text"),
        ("ply", "ply", "PLY"),
        ("obj", "obj", "OBJ"),
        ("glb", "glb", "GLB"),
    ],
)
def test_every_format_written_by_a_general_library(kind: str, ending: str, said: str, tmp_path: Path) -> None:
    mesh = patch()
    path = tmp_path / f"sheet.{ending.upper()}"
    path.write_bytes(exported(mesh, kind))
    scan = read_scan(path)
    assert scan.file_format == said
    assert scan.stated_unit == ("m" if kind == "glb" else None)
    assert len(scan.mesh.vertices) == len(mesh.vertices)
    # 1e-6: single precision and text with eight digits at coordinates up to 20.
    assert scan.mesh.corners == pytest.approx(mesh.corners, abs=2e-6)
    assert scan.remarks == ()


def test_ascii_ply_as_well() -> None:
    import trimesh

    mesh = patch()
    data = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(file_type="ply", encoding="ascii")
    data = data.encode() if isinstance(data, str) else data
    assert scan_from_bytes(data, "ply", "a.ply").mesh.corners == pytest.approx(mesh.corners, abs=1e-5)


def test_binary_stl_whose_header_begins_with_solid() -> None:
    data = bytearray(exported(patch(), "stl"))
    data[:80] = b"solid facet normal lies".ljust(80)
    scan = scan_from_bytes(bytes(data), "stl", "a.stl")
    assert scan.file_format == "STL binary"
    assert len(scan.mesh.faces) == 600


@pytest.mark.parametrize("count", [0, 0xFFFFFFFF])
def test_binary_stl_without_a_count_is_read_and_said(count: int) -> None:
    data = bytearray(exported(patch(), "stl"))
    data[80:84] = struct.pack("<I", count)
    scan = scan_from_bytes(bytes(data), "stl", "a.stl")
    assert len(scan.mesh.faces) == 600
    assert "600" in scan.remarks[0].text


def test_bytes_after_the_end_are_ignored_and_said() -> None:
    scan = scan_from_bytes(exported(patch(), "stl") + b"trailer", "stl", "a.stl")
    assert len(scan.mesh.faces) == 600
    assert "7 bytes" in scan.remarks[0].text


@pytest.mark.parametrize("kind", ["stl", "ply", "glb"])
@pytest.mark.parametrize("share", [0.02, 0.5, 0.97])
def test_cut_off_files_are_refused(kind: str, share: float) -> None:
    data = exported(patch(), kind)
    with pytest.raises((UnreadableFile, NoSurface)):
        scan_from_bytes(data[: int(len(data) * share)], kind, "a")


@pytest.mark.parametrize("corners", [1, 2, 400])
@pytest.mark.parametrize("after", [b"ver", b"vertex", b"vertex 1.0"])
def test_text_stl_cut_within_a_triangle_is_refused(corners: int, after: bytes) -> None:
    parts = exported(patch(), "stl_ascii").split(b"vertex")
    with pytest.raises(UnreadableFile):
        scan_from_bytes(b"vertex".join(parts[: corners + 1]) + after, "stl", "a")


def test_text_stl_without_its_end_is_read_with_a_warning() -> None:
    data = exported(patch(), "stl_ascii")
    whole = data[: data.rindex(b"endsolid")]
    assert [r.level for r in scan_from_bytes(whole, "stl", "a.stl").remarks] == ["warning"]


@pytest.mark.parametrize(
    ("name", "data", "error"),
    [
        ("a.stl", b"", UnreadableFile),
        ("a.ply", b"\n\n  ", UnreadableFile),
        ("a.stl", b"\0" * 84, UnreadableFile),
        ("a.stl", b"solid nothing\nendsolid nothing\n", NoSurface),
        ("a.stl", b"some words, certainly no mesh" * 40, UnreadableFile),
        ("a.glb", b"glTF\x02\0\0\0\xff\xff\xff\xff", UnreadableFile),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", NoSurface),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", BadNumbers),
        ("a.obj", b"v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n", UnreadableFile),
        ("a.obj", b"v 0 0 0\nv 1 x 0\nv 0 1 0\nf 1 2 3\n", UnreadableFile),
        # Found by fuzzing: 34 bytes are as long as a binary STL of -1 triangles; one corner without numbers.
        ("a.stl", b"solid\xdf\nfeer loo,8418658\nve\0?\0\0\0\0\0r", UnreadableFile),
        ("a.stl", b"solid \nfacet\xfd loe\neopvtrx 2.0 0.0 2.359\n517137\xb5\xe1 0.vertex", UnreadableFile),
        ("a.fbx", b"anything", UnreadableFile),
        ("scan", b"anything", UnreadableFile),
    ],
)
def test_what_is_no_scan_is_refused_by_name(name: str, data: bytes, error: type, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(error) as caught:
        read_scan(path)
    assert caught.value.what
    assert caught.value.fix
    assert name in str(caught.value.where)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    (tmp_path / "folder.stl").mkdir()
    for name in ("absent.ply", "folder.stl"):
        with pytest.raises(UnreadableFile):
            read_scan(tmp_path / name)


def test_ply_that_promises_more_than_it_holds() -> None:
    head = b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\n"
    head += b"property float x\nproperty float y\nproperty float z\n"
    head += b"element face 9\nproperty list uchar int vertex_indices\nend_header\n"
    with pytest.raises(UnreadableFile) as caught:
        scan_from_bytes(head + b"\0" * 100, "ply", "a.ply")
    assert "4000000000" in caught.value.what


def test_point_cloud_is_called_one() -> None:
    import trimesh

    data = trimesh.PointCloud(patch().vertices).export(file_type="ply")
    with pytest.raises(NoSurface) as caught:
        scan_from_bytes(bytes(data), "ply", "a.ply")
    assert "point cloud" in caught.value.what


def broken(count: int) -> bytes:
    """The sheet as binary STL with the first corners of the first triangles no numbers."""
    data = bytearray(exported(patch(), "stl"))
    for index in range(count):
        at = 84 + 50 * index + 12
        data[at : at + 4] = struct.pack("<f", float("nan"))
    return bytes(data)


def test_few_corners_that_are_no_numbers_are_dropped_and_said() -> None:
    scan = scan_from_bytes(broken(5), "stl", "a.stl")
    assert len(scan.mesh.faces) == 595
    assert "5 triangles" in scan.remarks[0].text


def test_many_corners_that_are_no_numbers_are_refused() -> None:
    with pytest.raises(BadNumbers) as caught:
        scan_from_bytes(broken(7), "stl", "a.stl")  # 7 of 600 is over 1 %
    assert "7 of 600" in caught.value.what


def test_unused_points_that_are_no_numbers_do_no_harm() -> None:
    import trimesh

    mesh = patch()
    v = np.vstack([mesh.vertices, [[np.nan, 0, 0], [np.inf, 0, 0]]])
    data = trimesh.Trimesh(v, mesh.faces, process=False).export(file_type="ply")
    scan = scan_from_bytes(bytes(data), "ply", "a.ply")
    assert len(scan.mesh.faces) == 600
    assert "0 triangles" in scan.remarks[0].text


def test_obj_polygons_slashes_and_negative_indices() -> None:
    text = b"v 0 0 0 1 0 0\nv 1 0 0 1 0 0\nv 1 1 0 1 0 0\nv 0 1 0 1 0 0\nvt 0 0\n"
    text += b"f 1/1/1 2/1/1 3/1/1 4/1/1\nf -4 -3 -2\n"
    scan = scan_from_bytes(text, "obj", "a.obj")
    assert scan.mesh.faces.tolist() == [[0, 1, 2], [0, 2, 3], [0, 1, 2]]


def test_seeded_damage_never_gives_a_traceback() -> None:
    rng = np.random.default_rng(5)
    for kind in ("stl", "stl_ascii", "ply", "obj", "glb"):
        good = exported(patch(), kind)
        for _ in range(40):
            data = bytearray(good)
            for place in rng.integers(0, len(data), rng.integers(1, 12)):
                data[place] = int(rng.integers(256))
            try:
                scan = scan_from_bytes(bytes(data), kind.split("_")[0], "a")
            except DesignError as error:
                assert error.fix
            else:
                assert np.isfinite(scan.mesh.vertices).all()
                assert scan.mesh.faces.max() < len(scan.mesh.vertices)


@pytest.mark.scans
def test_triangle_soup_of_a_real_head_closes_up() -> None:
    mesh = read_scan(scan_path("sculpt-small-closed")).mesh
    _, forward, backward = edge_use(mesh.faces)
    assert (forward == 1).all()
    assert (backward == 1).all()


@pytest.mark.skipif(
    find_spec("atheris") is not None, reason="atheris is installed here; the fuzzer would run"
)
def test_fuzzing_says_what_is_missing() -> None:
    tool = ROOT / "tools" / "fuzz_readers.py"
    ran = subprocess.run([sys.executable, str(tool), "stl"], capture_output=True, text=True, check=False)
    assert ran.returncode == 2
    assert "pip install '.[fuzz]'" in ran.stderr and "Traceback" not in ran.stderr

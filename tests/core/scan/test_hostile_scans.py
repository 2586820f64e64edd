"""Scan files that would hang, swell or mislead: refused by name before they are laid out, or read rightly."""

from __future__ import annotations

import gzip
import json
import os
import struct
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import trimesh
from sealwright.errors import DesignError, NoSurface, UnreadableFile
from sealwright.scan.read.mesh_file import MAX_TRIANGLES, read_scan, scan_from_bytes

SHEET = trimesh.creation.icosphere(2, 50.0)
STEPS = 100_000_000
"""Bytes that a refusal may take at its peak: a hundred times the files below."""


def glb(tree: dict, binary: bytes = b"") -> bytes:
    """A GLB 2.0 file of a scene and its binary part (glTF 2.0, section 4)."""
    text = json.dumps({"asset": {"version": "2.0"}, **tree}).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    body = (
        struct.pack("<II", len(text), 0x4E4F534A)
        + text
        + struct.pack("<II", len(binary), 0x004E4942)
        + binary
    )
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def scene(pieces: int = 1, nodes: list | None = None) -> tuple[dict, bytes]:
    """One mesh of ``pieces`` primitives that share the points of a sphere."""
    points = SHEET.vertices.astype("<f4").tobytes()
    corners = SHEET.faces.astype("<u4").tobytes()
    tree = {
        "buffers": [{"byteLength": len(points) + len(corners)}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(corners)},
        ],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(SHEET.vertices), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": SHEET.faces.size, "type": "SCALAR"},
        ],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}] * pieces}],
        "nodes": nodes or [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
        "scene": 0,
    }
    return tree, points + corners


def refused(data: bytes, ending: str, words: str) -> None:
    """Within two seconds and 100 MB, in words that name the cause."""
    begun = time.process_time()
    tracemalloc.start()
    with pytest.raises(DesignError, match=words):
        scan_from_bytes(data, ending, f"scan.{ending}")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # tracemalloc slows everything; an untraced refusal takes a small share of this
    assert peak < STEPS and time.process_time() - begun < 20.0


def test_plain_scene_is_read() -> None:
    tree, binary = scene(2, [{"children": [1, 2]}, {"mesh": 0}, {"mesh": 0, "translation": [500, 0, 0]}])
    mesh = scan_from_bytes(glb(tree, binary), "glb", "scan.glb").mesh
    assert len(mesh.faces) == 4 * len(SHEET.faces)  # two pieces, twice
    assert np.ptp(mesh.vertices[:, 0]) == pytest.approx(600.0, rel=1e-6)


def test_instances_pieces_and_nesting_are_counted_first() -> None:
    many = [{"children": list(range(1, 4001))}, *[{"mesh": 0}] * 4000]
    refused(glb(*scene(1, many)), "glb", "over 2000 pieces")
    refused(glb(*scene(5000)), "glb", "over 2000 pieces")
    refused(
        glb(*scene(1, [{"children": list(range(1, 20_001))}, *[{"mesh": 0}] * 20_000])), "glb", "20001 nodes"
    )
    deep = [{"children": [n + 1]} for n in range(200)]
    refused(glb(*scene(1, [*deep, {"mesh": 0}])), "glb", "nested over 64 deep")
    refused(glb(*scene(1, [{"children": [0]}])), "glb", "nested over 64 deep")  # a ring
    twice = [{"children": [n + 1, n + 1]} for n in range(40)]  # doubles at every level
    refused(glb(*scene(1, [*twice, {"mesh": 0}])), "glb", "nested over|over 5000|over 2000 pieces")


def test_tables_that_are_not_in_the_file_are_refused() -> None:
    tree, binary = scene()
    tree["accessors"][0] = {"componentType": 5126, "count": 2_000_000_000, "type": "VEC3"}
    refused(glb(tree, binary), "glb", "not in the file")
    for key, value in (("count", 10**9), ("count", -1), ("count", "x"), ("byteOffset", 10**9)):
        tree, binary = scene()
        tree["accessors"][0][key] = value
        refused(glb(tree, binary), "glb", "damaged")
    tree, binary = scene()
    tree["bufferViews"][1]["byteLength"] = 10**9
    refused(glb(tree, binary), "glb", "damaged")
    tree["buffers"][0]["uri"] = "other.bin"
    refused(glb(tree, binary), "glb", "in other files")


@pytest.mark.parametrize(
    ("extension", "words"),
    [
        ("KHR_draco_mesh_compression", "packed with Draco"),
        ("EXT_meshopt_compression", "packed with meshopt"),
        ("EXT_unheard_of", "extension EXT_unheard_of"),
    ],
)
def test_packed_scenes_are_refused_by_name(extension: str, words: str) -> None:
    tree, binary = scene()
    tree |= {"extensionsUsed": [extension], "extensionsRequired": [extension]}
    refused(glb(tree, binary), "glb", words)


@pytest.mark.parametrize("ending", ["stl", "ply", "obj", "glb"])
def test_packed_files_are_refused_by_name(ending: str) -> None:
    data = SHEET.export(file_type="ply")
    refused(gzip.compress(data), ending, "packed with gzip")
    refused(b"DRACO\x02\x02" + data, ending, "packed with Draco")
    refused(b"PK\x03\x04" + data, ending, "a zip package")


@pytest.mark.parametrize("kind", ["ply", "glb", "obj"])
def test_wrong_name_is_read_by_content_and_said(kind: str) -> None:
    data = SHEET.export(file_type=kind)
    data = data.encode() if isinstance(data, str) else data
    scan = scan_from_bytes(data, "stl", "scan.stl")
    assert len(scan.mesh.faces) == len(SHEET.faces)
    assert f"the file is {kind.upper()}" in scan.remarks[0].text
    assert not scan_from_bytes(data, kind, f"scan.{kind}").remarks


def test_text_stl_may_be_called_anything() -> None:
    """A name with the words of the format in it; the same file under a plain name is the truth."""
    plain = SHEET.export(file_type="stl_ascii")
    first, _, rest = plain.partition("\n")
    assert first.startswith("solid")
    for name in ("my vertex facet", "vertex 1 2 3", "endsolid facet normal x"):
        odd = f"solid {name}\n{rest}".replace("endsolid", f"endsolid {name}")
        seen = scan_from_bytes(odd.encode(), "stl", "scan.stl")
        wanted = scan_from_bytes(plain.encode(), "stl", "scan.stl")
        assert seen.remarks == () and np.array_equal(seen.mesh.corners, wanted.mesh.corners)


def test_negative_indices_count_from_their_own_line() -> None:
    """Three objects, each with its points and a face of the last three (Wavefront: relative to the line)."""
    lines = []
    for k in range(3):
        lines += [f"o part{k}", f"v {10 * k} 0 0", f"v {10 * k + 1} 0 0", f"v {10 * k} 1 0", "f -3 -2 -1"]
    mesh = scan_from_bytes("\n".join(lines).encode(), "obj", "scan.obj").mesh
    assert sorted(mesh.corners[:, 0, 0].tolist()) == [0.0, 10.0, 20.0]
    assert mesh.area == pytest.approx(1.5)
    mixed = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -1\nv 5 5 5\nv 6 5 5\nf -1//1 -2//1 1//1\n"
    corners = scan_from_bytes(mixed, "obj", "scan.obj").mesh.corners
    assert corners[1].tolist() == [[6, 5, 5], [5, 5, 5], [0, 0, 0]]


def test_indented_obj_is_read() -> None:
    text = SHEET.export(file_type="obj")
    indented = "\n".join(f"  \t{line}" for line in text.splitlines())
    mesh = scan_from_bytes(indented.encode(), "obj", "scan.obj").mesh
    assert len(mesh.faces) == len(SHEET.faces) and mesh.area == pytest.approx(SHEET.area, rel=1e-4)


def test_degenerate_scans_have_a_refusal_of_their_own() -> None:
    dot = trimesh.Trimesh(np.zeros((300, 3)), np.arange(300).reshape(-1, 3), process=False)
    for kind in ("stl", "ply"):
        with pytest.raises(NoSurface, match="one point"):
            scan_from_bytes(dot.export(file_type=kind), kind, f"scan.{kind}")
    tree, binary = scene(1, [{"mesh": 0, "matrix": [0.0] * 15 + [1.0]}])
    with pytest.raises(NoSurface, match="one point"):
        scan_from_bytes(glb(tree, binary), "glb", "scan.glb")


def test_too_many_triangles_are_refused_before_they_are_laid_out() -> None:
    count = MAX_TRIANGLES + 1
    head = "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
    head += f"property float z\nelement face {count}\nproperty list uchar int vertex_indices\nend_header\n"
    refused(head.encode() + b"\0" * 1000, "ply", f"{count} triangles")
    refused(b"v 0 0 0\nv 1 0 0\nv 0 1 0" + b"\nf 1 2 3" * count, "obj", f"{count} triangles")


@pytest.mark.skipif(os.name == "nt", reason="pipes and devices of Unix")
def test_only_regular_files_are_opened(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.stl"
    os.mkfifo(pipe)
    with pytest.raises(UnreadableFile, match="is a pipe"):
        read_scan(pipe)
    endless = tmp_path / "endless.stl"
    endless.symlink_to("/dev/zero")
    with pytest.raises(UnreadableFile, match="is a device"):
        read_scan(endless)
    ring = tmp_path / "ring.stl"
    ring.symlink_to(ring)
    with pytest.raises(UnreadableFile, match="cannot be read"):
        read_scan(ring)
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(UnreadableFile, match="is a folder"):
        read_scan(tmp_path / "folder.stl")

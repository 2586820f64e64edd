"""Refusals through the whole job: code, place, way to mend it, and nothing left behind."""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from face.shapes import HEAD, sheet_mesh, sphere
from sealwright.designing.prepare import design
from sealwright.designing.prepared import Prepared
from sealwright.errors import DesignError
from sealwright.jobs.cli import main
from sealwright.jobs.make import Source, prepare_source
from sealwright.mesh import TriMesh
from sealwright.progress import run_to_end
from sealwright.recipe import recipe_from_json
from sealwright.scan.landmark_names import DEFINITIONS

from .wearers import marlo_head


def ply(path: Path, vertices: np.ndarray, faces: np.ndarray) -> Path:
    trimesh.Trimesh(vertices, faces, process=False).export(path)
    return path


def head() -> TriMesh:
    """Marlo, as scans usually stand: Y up, +Z out of the face, mm."""
    return marlo_head().mesh.moved(np.array([[1.0, 0, 0, 0], [0, 0, 1.0, 0], [0, -1.0, 0, 0], [0, 0, 0, 1]]))


def empty(folder: Path) -> Path:
    path = folder / "empty.stl"
    path.touch()
    return path


def cut_off(folder: Path) -> Path:
    whole = ply(folder / "whole.stl", head().vertices, head().faces).read_bytes()
    path = folder / "cut.stl"
    path.write_bytes(whole[: len(whole) // 2])
    return path


def no_triangles(folder: Path) -> Path:
    path = folder / "none.stl"
    path.write_bytes(b"made by nobody".ljust(80) + struct.pack("<I", 0))
    return path


def not_numbers(folder: Path) -> Path:
    vertices = np.array(head().vertices)
    vertices[::20] = np.nan
    return ply(folder / "nan.ply", vertices, head().faces)


def point_cloud(folder: Path) -> Path:
    path = folder / "cloud.ply"
    trimesh.PointCloud(head().vertices).export(path)
    return path


def thin_shell(folder: Path) -> Path:
    """The classic: a scan thickened by 2 mm before it is read, closed and two-sided."""
    skin = sheet_mesh(*_patch())
    inner = skin.vertices - 2.0 * skin.vertex_normals
    rim = trimesh.Trimesh(skin.vertices, skin.faces, process=False)
    edges = rim.edges[trimesh.grouping.group_rows(rim.edges_sorted, require_count=1)]
    count = len(skin.vertices)
    walls = np.vstack(
        [
            np.c_[edges[:, 1], edges[:, 0], edges[:, 0] + count],
            np.c_[edges[:, 1], edges[:, 0] + count, edges[:, 1] + count],
        ]
    )
    return ply(
        folder / "shell.ply",
        np.vstack([skin.vertices, inner]),
        np.vstack([skin.faces, skin.faces[:, ::-1] + count, walls]),
    )


def _patch() -> tuple[np.ndarray, np.ndarray]:
    from .wearers import marlo_prepared

    face = marlo_prepared().face
    return face.points, face.known


def ball(folder: Path) -> Path:
    made = trimesh.creation.icosphere(subdivisions=5, radius=100.0)
    return ply(folder / "ball.ply", made.vertices, made.faces)


def flat(folder: Path) -> Path:
    mesh = sheet_mesh(sphere(120.0, HEAD, centre=HEAD).points, np.ones((241, 241), dtype=bool))
    return ply(folder / "flat.ply", mesh.vertices, mesh.faces)


def upper_half(folder: Path) -> Path:
    mesh = head()
    keep = (mesh.vertices[:, 1] > 5.0)[mesh.faces].all(axis=1)
    part = mesh.submesh(keep)
    return ply(folder / "upper.ply", part.vertices, part.faces)


BAD_FILES: list[tuple[Callable[[Path], Path], set[str], str]] = [
    (empty, {"unreadable-file"}, "empty"),
    (cut_off, {"unreadable-file"}, "cut off|truncated|shorter|ends"),
    (no_triangles, {"no-surface"}, "0 triangles|no triangles"),
    (not_numbers, {"bad-numbers"}, "no usable numbers"),
    (point_cloud, {"no-surface"}, "points and no triangles"),
    (thin_shell, {"closed-solid"}, ""),
    (ball, {"not-a-face", "closed-solid"}, ""),
    (flat, {"not-a-face"}, ""),
    (upper_half, {"not-a-face", "landmark"}, ""),
]


@pytest.mark.costly
@pytest.mark.parametrize(("make_file", "codes", "words"), BAD_FILES, ids=lambda v: getattr(v, "__name__", ""))
def test_bad_scan_is_refused_and_leaves_nothing(make_file, codes, words, tmp_path: Path, capsys) -> None:
    path = make_file(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(DesignError) as refusal:
        run_to_end(prepare_source(Source(path), bare_recipe()))
    assert refusal.value.code in codes
    assert re.search(words, refusal.value.what)
    assert refusal.value.where.role
    assert refusal.value.fix.endswith(".")
    assert main(["make", str(path), "--out", str(tmp_path / "out" / "deep"), "--no-pictures"]) == 2
    assert sorted(tmp_path.rglob("*")) == before
    told = capsys.readouterr()
    assert f"Refused ({refusal.value.code})" in told.err
    assert "Mend:" in told.err
    assert "Traceback" not in told.err
    assert told.out == ""


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DesignError) as refusal:
        run_to_end(prepare_source(Source(tmp_path / "none.ply"), bare_recipe()))
    assert refusal.value.code == "unreadable-file"
    assert refusal.value.where.key == "none.ply"


@pytest.mark.costly
@pytest.mark.parametrize(
    ("true_unit", "said", "likely"),
    [
        ("m", "mm", "metres"),
        ("in", "mm", "inches"),
        ("mm", "m", "millimetres"),
        ("mm", "in", "millimetres"),
        ("cm", "m", "centimetres"),
    ],
)
def test_mixed_up_unit_is_refused_and_the_likely_one_named(
    true_unit: str, said: str, likely: str, tmp_path: Path
) -> None:
    mm = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}[true_unit]
    path = ply(tmp_path / "head.ply", head().vertices / mm, head().faces)
    with pytest.raises(DesignError) as refusal:
        run_to_end(prepare_source(Source(path, unit=said), bare_recipe()))
    assert refusal.value.code == "implausible-size"
    assert likely in refusal.value.what
    assert f"--unit {true_unit}" in refusal.value.fix


def test_size_of_no_face_is_refused(tmp_path: Path) -> None:
    path = ply(tmp_path / "head.ply", head().vertices / 300_000.0, head().faces)
    with pytest.raises(DesignError) as refusal:
        run_to_end(prepare_source(Source(path), bare_recipe()))
    assert refusal.value.code == "implausible-size"
    assert "no usual unit" in refusal.value.what


def test_scan_wound_inside_out_is_put_right_and_said(tmp_path: Path) -> None:
    """A face seen from inside: not refused, because the way out is known; the maker is told."""
    there, back = (
        ply(tmp_path / name, head().vertices, faces)
        for name, faces in (("a.ply", head().faces), ("b.ply", head().faces[:, ::-1]))
    )
    good, turned = (run_to_end(prepare_source(Source(p), bare_recipe())) for p in (there, back))
    assert turned.face.radii == pytest.approx(good.face.radii, abs=1e-3, nan_ok=True)
    said = [r.text for r in turned.remarks if "inside" in r.text or "inward" in r.text or "turned" in r.text]
    assert said
    assert not [r.text for r in good.remarks if r.text in said]
    outward = (turned.skin.face_normals * (turned.skin.corners.mean(axis=1) - turned.face.chart.centre)).sum(
        axis=1
    )
    assert (outward > 0).mean() > 0.9


NEAR = {"front_mm": 12.0, "further_out": False}
DESIGNS: list[tuple[dict, str, str, str]] = [
    # recipe, code, role of the place, words
    (
        {"band": {"width_mm": 30.0}, "cushion": {"kind": "none"}, "seal_line": "wavy"},
        "band-folds",
        "contact band",
        "too wide|folds",
    ),
    ({"seal_line": "off"}, "off-the-scan", "seal line", "no skin"),
    ({"seal_line": "crossed"}, "seal-line", "seal line", "crosses itself"),
    ({"seal_line": "lips"}, "seal-line", "seal line", "passes"),
    ({"ports": [NEAR], "chamber": {"clearance_mm": 15.0}}, "does-not-fit", "port", "too near"),
    ({"kind": "tube", "tube": {"diameter_mm": 140.0}}, "off-the-scan", "tube", "%"),
    (
        {"kind": "tube", "tube": {"front_mm": 10.0, "diameter_mm": 72.0}},
        "does-not-fit",
        "tube",
        "inside the face",
    ),
]


def control_points(kind: str, marlo: Prepared) -> list[list[float]]:
    """A ring round the mouth with something wrong."""
    turn = np.linspace(0.0, 2 * np.pi, 12, endpoint=False)
    mouth = 0.5 * (marlo.landmarks["cheilion_left"] + marlo.landmarks["cheilion_right"])
    radius = np.full(12, 27.0 if kind == "lips" else 42.0)
    if kind == "wavy":
        radius[::2] = 52.0
    ring = np.stack([radius * np.sin(turn), 0 * turn, 1.1 * radius * np.cos(turn)], axis=1)
    ring = ring + mouth + [0.0, -8.0, 8.0]
    if kind == "off":
        ring[5] = [30.0, 300.0, -20.0]
    if kind == "crossed":
        ring[[3, 8]] = ring[[8, 3]]
    return ring.tolist()


@pytest.mark.parametrize(("data", "code", "role", "words"), DESIGNS, ids=[f"{d[1]}-{d[2]}" for d in DESIGNS])
def test_recipe_that_does_not_fit_the_face_is_refused_with_the_place(data, code, role, words, marlo) -> None:
    if "seal_line" in data:
        smooth = {"smoothing_mm": 2.0} if data["seal_line"] == "wavy" else {}
        line = {"control_points": control_points(data["seal_line"], marlo), **smooth}
        data = {**data, "seal_line": line}
    with pytest.raises(DesignError) as refusal:
        run_to_end(design(marlo, recipe_from_json(data), "preview"))
    assert refusal.value.code == code, refusal.value
    assert role in refusal.value.where.role
    assert refusal.value.where.point is not None or refusal.value.where.indices
    assert re.search(words, refusal.value.what)


def narrow_head(folder: Path, half_mm: float) -> Prepared:
    """The head cropped to a strip round the midline, with the landmarks that lie on it."""
    mesh = head()
    narrow = mesh.submesh((np.abs(mesh.vertices[:, 0]) < half_mm)[mesh.faces].all(axis=1))
    path = ply(folder / "narrow.ply", narrow.vertices, narrow.faces)
    stand = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])
    near = {n: p for n, p in marlo_head().landmarks.items() if n in DEFINITIONS and abs(p[0]) < half_mm - 2.0}
    file = folder / "marks.json"
    file.write_text(json.dumps({name: (stand @ p).tolist() for name, p in near.items()}))
    return run_to_end(prepare_source(Source(path, landmarks=file), bare_recipe()))


def test_scan_without_skin_for_any_line_is_refused_with_the_skin_that_is_missing(tmp_path: Path) -> None:
    """Cropped close to the mouth corners (25 mm): 8 mm beside them no band of 10 mm has skin."""
    prepared = narrow_head(tmp_path, 33.0)
    with pytest.raises(DesignError) as refusal:
        run_to_end(design(prepared, bare_recipe(), "preview"))
    assert refusal.value.code == "off-the-scan"
    assert "mouth side" in refusal.value.what
    assert "left" in refusal.value.what and "right" in refusal.value.what
    assert "escan" in refusal.value.fix and "from the" in refusal.value.fix
    assert len(refusal.value.where.spots) == len(refusal.value.where.indices) > 0
    across, forward, _ = refusal.value.where.view  # both sides are missing alike: from the front
    assert forward < -0.7 and abs(across) < 0.3


@pytest.mark.costly
def test_line_moves_inwards_where_the_scan_ends_and_says_what_it_costs(tmp_path: Path) -> None:
    """Cropped at 40 mm, where the usual line has no skin for the band: there is one nearer to the mouth."""
    prepared = narrow_head(tmp_path, 40.0)
    made = run_to_end(design(prepared, bare_recipe(), "preview"))
    assert np.abs(made.seal_line.points[:, 0]).max() < 40.0
    rows = made.band.grid[:, made.band.contact]
    assert prepared.face.is_known(prepared.face.chart.place_of(rows)[0]).all()
    said = " ".join(remark.text for remark in made.remarks)
    assert "searched on the scanned skin" in said and "moved by more than" in said


@pytest.mark.costly
def test_port_wider_than_the_chamber_is_refused(marlo: Prepared) -> None:
    data = {"ports": [{**NEAR, "connection": {"kind": "metric", "diameter_mm": 80.0, "bore_mm": 60.0}}]}
    with pytest.raises(DesignError) as refusal:
        run_to_end(design(marlo, recipe_from_json(data), "preview"))
    assert refusal.value.code == "does-not-fit"
    assert refusal.value.where.role == "port"
    assert "Move the port" in refusal.value.fix

"""Ports, lugs and cutters on own shapes from files to folder."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator
from main_job.test_refusals import head, ply
from sealwright.jobs.cli import main
from sealwright.report.schema import report_schema

from .test_trim import moved

pytestmark = pytest.mark.heavy

FITTINGS = [
    {
        "x_mm": 0.0, "y_mm": -75.0, "z_mm": -20.0, "turn_deg": 0.0, "disc_mm": 80.0,
        "connection": {"diameter_mm": 32.0, "bore_mm": 18.0, "kind": "printed"},
    },
    {"kind": "lug", "x_mm": 36.0, "y_mm": -40.0, "z_mm": -20.0, "tilt_deg": 0.0, "turn_deg": 90.0},
]  # fmt: skip


def cup() -> trimesh.Trimesh:
    """A closed block before nose and mouth with a hollow that the trimming opens, in Marlo's face frame."""
    turn = trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0))
    outer, inner = (
        moved(trimesh.creation.cylinder(radius, 130.0 - less, sections=96), 0.0, -10.0, -20.0, turn)
        for radius, less in ((36.0, 0.0), (32.0, 8.0))
    )
    inner.invert()
    return trimesh.util.concatenate([outer, inner])


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A trimmed cup with a threaded port, its holder, a lug and a window that was cut."""
    at = tmp_path_factory.mktemp("fitted")
    scan = ply(at / "marlo.ply", head().vertices, head().faces)
    cup().export(at / "cup.stl")
    moved(trimesh.creation.cylinder(5.0, 80.0), 0.0, -60.0, 12.0).export(at / "window.stl")
    recipe = {
        "kind": "trim", "band": {"width_mm": 10.0, "inner_share": 0.3}, "cushion": {"kind": "none"},
        "trim": {"fillet_mm": 2.0},
        "fittings": FITTINGS,
    }  # fmt: skip
    (at / "recipe.json").write_text(json.dumps(recipe))
    words = ["trim", str(at / "cup.stl"), str(scan), "--recipe", str(at / "recipe.json"), "--frame", "design"]
    words += ["--cutter", str(at / "window.stl"), "--out", str(at / "out")]
    assert main(words) == 0
    return at / "out"


def test_parts_files_and_pictures(folder: Path) -> None:
    names = {path.name for path in folder.iterdir()}
    assert {"trimmed.stl", "holder.stl", "retainer.stl", "mask.3mf", "fit-report.json"} <= names
    assert (folder / "pictures" / "worn-three-quarter.png").stat().st_size > 10_000
    mesh = trimesh.load(folder / "trimmed.stl")
    assert mesh.is_watertight
    assert mesh.body_count == 1


def test_report_tells_the_fittings_and_their_room(folder: Path) -> None:
    report = json.loads((folder / "fit-report.json").read_text())
    Draft202012Validator(report_schema()).validate(report)
    port, lug = report["own_shape"]["fittings"]
    assert port["role"] == "port 1"
    assert port["wall_mm"] == pytest.approx(4.0, abs=0.01)  # of the cup
    assert port["in_hollow_mm"] == 0.0
    assert lug["wall_mm"] == pytest.approx(4.0, abs=0.01)
    pairs = {(pair["part"], pair["other"]): pair["fault"] for pair in report["assembly"]["pairs"]}
    assert pairs[("holder", "trimmed")] == ""
    assert pairs[("strap 1", "trimmed")] == ""
    assert set(pairs.values()) == {""}
    assert report["hardware"]["ports"][0]["port_kind"] == "printed"
    assert report["printing"]["parts"]["trimmed"]["layers"] > 100
    assert report["clearance"]["entry_mm"] <= 0.05
    assert report["prediction"] is None


def test_a_fitting_off_a_mask_is_refused_with_its_place(folder: Path, tmp_path: Path, capsys) -> None:
    scan = folder.parent / "marlo.ply"
    (tmp_path / "recipe.json").write_text(json.dumps({"fittings": FITTINGS[:1]}))
    words = ["make", str(scan), "--recipe", str(tmp_path / "recipe.json"), "--out", str(tmp_path / "out")]
    assert main(words) == 2
    said = capsys.readouterr().err
    assert "off the surface" in said and "at (0.0, -75.0, -20.0) mm" in said
    assert not list(tmp_path.rglob("*.stl"))

"""`sealwright trim` from files to folder, in the coordinates of the scan and of the design."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator
from main_job.test_cli import UPRIGHT
from main_job.test_refusals import head, ply
from sealwright.jobs.cli import CAUTION, main
from sealwright.report.schema import report_schema

from .test_trim import moved, opened

pytestmark = pytest.mark.heavy

RECIPE = {
    "kind": "trim",
    "band": {"width_mm": 10.0},
    "cushion": {"kind": "none"},
    "trim": {"fillet_mm": 3.0},
}


@pytest.fixture(scope="module")
def scan(tmp_path_factory) -> Path:
    """Marlo in metres and upright."""
    return ply(tmp_path_factory.mktemp("trim") / "marlo.ply", head().vertices / 1000.0, head().faces)


def rod() -> trimesh.Trimesh:
    """A rod through the invented wearer's cheek, in his face frame, mm."""
    turn = trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0))
    return moved(trimesh.creation.cylinder(8.0, 60.0, sections=48), 42.0, 5.0, -5.0, turn)


def made(scan: Path, model: trimesh.Trimesh, folder: Path, *more: str) -> tuple[int, Path]:
    """Exit code and folder of one run."""
    path, recipe, out = folder / "rod.stl", folder / "recipe.json", folder / "out"
    model.export(path)
    recipe.write_text(json.dumps(RECIPE))
    words = ["trim", str(path), str(scan), "--recipe", str(recipe), "--out", str(out), "--no-pictures"]
    return main([*words, *more]), out


def test_trim_writes_the_folder_and_reports(scan: Path, tmp_path: Path, capsys) -> None:
    model = rod()
    in_scan = trimesh.Trimesh(model.vertices @ UPRIGHT.T / 1000.0, model.faces, process=False)
    code, out = made(scan, in_scan, tmp_path)
    assert code == 0
    assert CAUTION in capsys.readouterr().out
    assert {p.name for p in out.iterdir()} == {
        "trimmed.stl", "mask.3mf", "fit-report.json", "fit-report.html", "recipe.json", "made.json",
    }  # fmt: skip
    mesh = trimesh.load(out / "trimmed.stl")
    assert mesh.is_watertight
    assert mesh.body_count == 1
    report = json.loads((out / "fit-report.json").read_text())
    Draft202012Validator(report_schema()).validate(report)
    assert report["kind"] == "trim"
    assert report["clearance"]["entry_mm"] <= 0.05
    assert [line["role"] for line in report["own_shape"]["lines"]] == ["contact 1", "contact band"]
    assert report["own_shape"]["touching_share"] > 0.99
    assert "thickness" not in report["own_shape"]


def test_a_model_in_the_frame_of_the_design(scan: Path, tmp_path: Path) -> None:
    """The rod stands where the design's frame has it, whatever frame the scan has."""
    code, out = made(scan, rod(), tmp_path, "--frame", "design")
    assert code == 0
    middle = trimesh.load(out / "trimmed.stl").bounds.mean(axis=0)
    assert middle[[0, 2]] == pytest.approx([42.0, -5.0], abs=1.5)  # the band is walked on skin that bends


def test_an_open_model_is_refused(scan: Path, tmp_path: Path, capsys) -> None:
    code, out = made(scan, opened(rod()), tmp_path, "--frame", "design")
    assert code == 2
    told = capsys.readouterr().err
    assert "is open" in told
    assert "Fill" in told
    assert not out.exists()

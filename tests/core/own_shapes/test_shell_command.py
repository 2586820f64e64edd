"""`sealwright shell` from file to folder: what is written and reported, whose it is, and what is refused."""

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
from sealwright.own_shapes.outline_file import read_outline
from sealwright.report.schema import report_schema

from .drawn import NOSE, front_view

pytestmark = pytest.mark.heavy


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> tuple[Path, Path]:
    """Marlo in metres and upright, and an outline over his nose in the same coordinates, with a hole."""
    folder = tmp_path_factory.mktemp("shell")
    scan = ply(folder / "marlo.ply", head().vertices / 1000.0, head().faces)
    turn = 2.0 * np.pi * np.arange(12) / 12
    lines = {
        "outline": front_view(NOSE),
        "holes": [front_view(np.column_stack([4.0 * np.cos(turn), 28.0 + 4.0 * np.sin(turn)]))],
    }
    moved = {
        "outline": (lines["outline"] @ UPRIGHT.T / 1000.0).tolist(),
        "holes": [(hole @ UPRIGHT.T / 1000.0).tolist() for hole in lines["holes"]],
    }
    outline = folder / "nose.json"
    outline.write_text(json.dumps(moved))
    return scan, outline


def test_shell_writes_the_folder_and_reports(files, tmp_path: Path, capsys) -> None:
    scan, outline = files
    recipe, out = tmp_path / "recipe.json", tmp_path / "out"
    recipe.write_text('{"kind": "shell", "shell": {"edge": {"radius_mm": 3.0, "roll_deg": 40.0}}}')
    words = ["shell", str(scan), "--outline", str(outline), "--recipe", str(recipe), "--out", str(out)]
    assert main([*words, "--wearer", "Marlo", "--no-pictures"]) == 0
    assert CAUTION in capsys.readouterr().out
    names = {path.name for path in out.iterdir()}
    assert names == {
        "shell.stl", "mask.3mf", "fit-report.json", "fit-report.html", "recipe.json", "made.json",
    }  # fmt: skip
    mesh = trimesh.load(out / "shell.stl")
    assert mesh.is_watertight
    assert mesh.euler_number == 0  # one hole
    report = json.loads((out / "fit-report.json").read_text())
    Draft202012Validator(report_schema()).validate(report)
    own = report["own_shape"]
    assert report["kind"] == "shell"
    assert [line["role"] for line in own["lines"]] == ["outline", "hole 1"]
    assert own["thickness"]["within_10_percent_share"] > 0.999
    assert report["clearance"]["entry_mm"] <= 0.05
    assert report["contact"] is None
    assert report["prediction"] is None
    assert report["parts"]["shell"]["soundness"]["sound"]
    # The same folder for another outline is another design.
    other = tmp_path / "other.json"
    other.write_text(json.dumps(json.loads(outline.read_text())["outline"]))
    words[3] = str(other)
    assert main([*words, "--wearer", "Marlo", "--no-pictures"]) == 2
    assert "holds another design" in capsys.readouterr().err


def test_make_refuses_a_shell_that_nobody_drew(files, tmp_path: Path, capsys) -> None:
    recipe = tmp_path / "recipe.json"
    recipe.write_text('{"kind": "shell"}')
    assert main(["make", str(files[0]), "--recipe", str(recipe), "--out", str(tmp_path / "out")]) == 2
    assert "--outline" in capsys.readouterr().err
    assert not (tmp_path / "out" / "shell.stl").exists()


@pytest.mark.parametrize(
    "text",
    ["", "[", "[]", "{}", "[[1, 2]]", "[[1, 2, NaN]]", "[[1, 2, true]]", '{"outline": 3}', '{"holes": []}'],
)
def test_files_that_hold_no_outline(text: str, tmp_path: Path) -> None:
    from sealwright.errors import BadOutline

    path = tmp_path / "outline.json"
    path.write_text(text)
    with pytest.raises(BadOutline) as refusal:
        read_outline(path)
    assert "scan coordinates" in refusal.value.fix

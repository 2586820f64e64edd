"""The command line: exit codes, what is printed and where, options that override what is automatic."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator
from sealwright.jobs.cli import CAUTION, main

from .test_refusals import head, ply
from .wearers import marlo_head

UPRIGHT = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])


@pytest.fixture(scope="module")
def scan(tmp_path_factory) -> Path:
    """Marlo in metres."""
    return ply(tmp_path_factory.mktemp("scan") / "marlo.ply", head().vertices / 1000.0, head().faces)


@pytest.fixture
def tube(tmp_path: Path) -> Path:
    path = tmp_path / "tube.json"
    path.write_text('{"kind": "tube"}')
    return path


def prepared(capsys, *arguments: str) -> dict:
    assert main(["prepare", *arguments]) == 0
    return json.loads(capsys.readouterr().out)


def test_make_writes_the_folder_and_says_so(scan: Path, tube: Path, tmp_path: Path, capsys) -> None:
    out = tmp_path / "new" / "folder"
    assert main(["make", str(scan), "--recipe", str(tube), "--out", str(out), "--no-pictures"]) == 0
    told = capsys.readouterr().out
    names = {p.name for p in out.iterdir()}
    assert {"tube.stl", "mask.3mf", "fit-report.json", "recipe.json"} <= names
    assert CAUTION in told
    assert f"{len(names)} files in" in told
    assert trimesh.load(out / "tube.stl").is_watertight
    assert not [name for name in names if name.startswith(".")]  # no temporary file stays


def test_check_writes_nothing(scan: Path, tube: Path, tmp_path: Path, capsys, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    assert main(["check", str(scan), "--recipe", str(tube)]) == 0
    assert sorted(tmp_path.rglob("*")) == before
    assert CAUTION in capsys.readouterr().out


def test_prepare_prints_what_was_found(scan: Path, capsys) -> None:
    found = prepared(capsys, str(scan))
    assert found["unit"] == "m"
    assert found["mm_per_unit"] == 1000.0
    assert len(found["seal"]) == 10 and set(found["seal"].values()) == {"good"}
    matrix = np.array(found["scan_to_design"])
    for name in ("sellion", "pronasale", "stomion"):
        true = marlo_head().landmarks[name]
        seen = np.array(found["landmarks_mm"][name])
        assert np.linalg.norm(seen - true) < 6.0  # the demand on proposed landmarks
        back = matrix[:3, :3] @ (UPRIGHT @ true / 1000.0) + matrix[:3, 3]
        assert np.linalg.norm(back - true) < 8.0


def test_unit_can_be_said(scan: Path, capsys) -> None:
    assert prepared(capsys, str(scan), "--unit", "m")["unit"] == "m"
    assert main(["prepare", str(scan), "--unit", "mm"]) == 2
    told = capsys.readouterr().err
    assert "implausible-size" in told
    assert "--unit m" in told


def test_known_length_gives_the_scale(scan: Path, capsys) -> None:
    """Between two points of the scan that are 0.2 apart in its unit and said to be 202 mm apart."""
    points = ["0,0,0", "0,0.2,0"]
    found = prepared(capsys, str(scan), "--known-length", "202", "--between", *points)
    assert found["mm_per_unit"] == pytest.approx(1010.0)
    matrix = np.array(found["scan_to_design"])
    assert np.cbrt(np.linalg.det(matrix[:3, :3])) == pytest.approx(1010.0)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--known-length", "202"], "both its value and the two points"),
        (["--between", "0,0,0", "0,0.2,0"], "both its value and the two points"),
        (["--known-length", "202", "--between", "0,0", "0,0.2,0"], "not a point"),
        (["--known-length", "202", "--between", "0,0,0", "0,x,0"], "not a point"),
        (["--known-length", "202", "--between", "0,0,0", "0,0,0"], "gives no scale"),
        (["--known-length", "9999", "--between", "0,0,0", "0,0.2,0"], "would be"),
        (["--landmarks", "none.json"], "landmark file"),
        (["--recipe", "none.json"], "recipe file"),
    ],
)
def test_options_that_say_nothing_usable_are_refused(
    arguments, words, scan: Path, tmp_path: Path, capsys
) -> None:
    assert main(["make", str(scan), "--out", str(tmp_path / "out"), *arguments]) == 2
    told = capsys.readouterr().err
    assert words in told
    assert told.count("\n") == 1  # one paragraph
    assert list(tmp_path.iterdir()) == []


def test_landmarks_can_be_given(scan: Path, tmp_path: Path, capsys) -> None:
    given = {
        name: (UPRIGHT @ marlo_head().landmarks[name] / 1000.0).tolist()
        for name in ("sellion", "menton", "subnasale")
    }
    path = tmp_path / "marks.json"
    path.write_text(json.dumps(given))
    found = prepared(capsys, str(scan), "--landmarks", str(path))
    assert found["confidence"]["sellion"] == 1.0
    matrix = np.array(found["scan_to_design"])
    for name, point in given.items():
        # The exact points lie up to a chord off the mesh; they are put on its skin.
        assert found["landmarks_mm"][name] == pytest.approx(matrix[:3, :3] @ point + matrix[:3, 3], abs=0.2)
    assert found["landmarks_mm"]["subnasale"] == pytest.approx([0.0, 0.0, 0.0], abs=0.01)


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ('{"noes": [0, 0, 0]}', "noes"),
        ('{"sellion": [0, 0]}', "sellion"),
        ('{"sellion": [0, 9, 9]}', "sellion"),
        ("[1, 2]", "no list of names"),
        ("{", "cannot be read"),
    ],
)
def test_bad_landmark_files_are_refused(marks: str, words: str, scan: Path, tmp_path: Path, capsys) -> None:
    path = tmp_path / "marks.json"
    path.write_text(marks)
    assert main(["prepare", str(scan), "--landmarks", str(path)]) == 2
    told = capsys.readouterr().err
    assert "Refused (landmark)" in told
    assert words in told


@pytest.mark.parametrize("which", ["recipe", "report"])
def test_schemas_are_printed(which: str, capsys) -> None:
    assert main(["schema", which]) == 0
    Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_folder_that_cannot_be_made_is_refused(scan: Path, tube: Path, tmp_path: Path, capsys) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    before = sorted(tmp_path.rglob("*"))
    assert (
        main(["make", str(scan), "--recipe", str(tube), "--out", str(blocked / "out"), "--no-pictures"]) == 2
    )
    assert "unwritable-file" in capsys.readouterr().err
    assert sorted(tmp_path.rglob("*")) == before


def test_name_taken_by_a_folder_leaves_the_rest_as_it_was(
    scan: Path, tube: Path, tmp_path: Path, capsys
) -> None:
    out = tmp_path / "out"
    (out / "recipe.json" / "inside").mkdir(parents=True)
    (out / "tube.stl").write_text("an earlier run")
    before = sorted(tmp_path.rglob("*"))
    assert main(["make", str(scan), "--recipe", str(tube), "--out", str(out), "--no-pictures"]) == 2
    assert "unwritable-file" in capsys.readouterr().err
    assert sorted(tmp_path.rglob("*")) == before
    assert (out / "tube.stl").read_text() == "an earlier run"


@pytest.mark.parametrize("arguments", [[], ["make"], ["mke", "x"], ["make", "a.ply"], ["schema", "scan"]])
def test_wrong_words_give_usage_and_code_2(arguments: list[str], capsys) -> None:
    """argparse's own exit code for usage errors."""
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    assert "usage" in capsys.readouterr().err


def test_our_own_fault_is_not_hidden(scan: Path, monkeypatch) -> None:
    """Exit code 1 is Python's for what nothing catches: a fault of ours must not look like a refusal."""
    import sealwright.jobs.cli

    def broken(*_: object) -> None:
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr(sealwright.jobs.cli, "prepare_source", broken)
    with pytest.raises(RuntimeError, match="fault of ours"):
        main(["prepare", str(scan)])


def test_stopping_writes_nothing(scan: Path, tmp_path: Path, monkeypatch, capsys) -> None:
    import sealwright.jobs.make

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(sealwright.jobs.make, "prepare", stopped)
    assert main(["make", str(scan), "--out", str(tmp_path / "out")]) == 2
    assert list(tmp_path.iterdir()) == []
    assert "nothing was written" in capsys.readouterr().err

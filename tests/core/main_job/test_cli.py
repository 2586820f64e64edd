"""The command line: exit codes, what is printed and where, options that override what is automatic."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator
from sealwright.errors import BackendUnavailable
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


def state_of(folder: Path) -> str:
    return str(json.loads((folder / "made.json").read_text())["state"])


def names_in(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir()}


PARTS = {"tube.stl", "mask.3mf", "recipe.json", "made.json"}
REPORT = {"fit-report.json", "fit-report.html"}


@pytest.mark.parametrize(("only", "names"), [("parts", PARTS), ("report", REPORT | {"made.json"})])
def test_no_more_is_made_than_is_asked_for(
    only: str, names: set[str], scan: Path, tube: Path, tmp_path: Path, monkeypatch, capsys
) -> None:
    import sealwright.jobs.make
    import sealwright.jobs.make_folder

    out = tmp_path / "out"
    for module, work in (
        (sealwright.jobs.make, "design_pictures"),
        (sealwright.jobs.make_folder, "fit_report" if only == "parts" else "part_files"),
    ):
        monkeypatch.setattr(module, work, None)  # whoever calls it fails
    words = ["make", str(scan), "--recipe", str(tube), "--out", str(out), "--only", only]
    assert main([*words, "--no-pictures"]) == 0
    assert names_in(out) == names and state_of(out) == "whole"
    assert ("Not judged" in capsys.readouterr().out) == (only == "parts")


def test_shares_asked_for_one_by_one_make_the_same_folder(scan: Path, tube: Path, tmp_path: Path) -> None:
    words = ["make", str(scan), "--recipe", str(tube), "--no-pictures", "--date", "2025-03-31"]
    for group in ("report", "parts"):
        assert main([*words, "--out", str(tmp_path / "one"), "--only", group]) == 0
    assert main([*words, "--out", str(tmp_path / "all")]) == 0
    one, all_ = (
        {p.name: p.read_bytes() for p in (tmp_path / name).iterdir() if p.name not in {*REPORT, "made.json"}}
        for name in ("one", "all")
    )
    assert one == all_ and names_in(tmp_path / "one") == PARTS | REPORT  # reports tell how long stages took


@pytest.mark.parametrize("how", ["stopped", "refused"])
def test_parts_that_were_told_as_written_stay_and_are_named_when_the_rest_fails(
    how: str, scan: Path, tube: Path, tmp_path: Path, monkeypatch, capsys
) -> None:
    import sealwright.jobs.make_folder

    def fails(*_: object, **__: object) -> None:
        raise (
            KeyboardInterrupt
            if how == "stopped"
            else BackendUnavailable("No ray caster.", "here", "Mend it.")
        )

    out = tmp_path / "out"
    words = ["make", str(scan), "--recipe", str(tube), "--out", str(out), "--no-pictures"]
    with monkeypatch.context() as patch:
        patch.setattr(sealwright.jobs.make_folder, "predicted_steps", fails)
        assert main(words) == (130 if how == "stopped" else 2)
    told = capsys.readouterr()
    assert f"The parts are whole in {out}" in told.out
    assert f"The parts were written before and are whole in {out}" in told.err
    assert "nothing was written" not in told.err
    assert names_in(out) == PARTS and state_of(out) == "parts"
    assert main([*words, "--only", "report"]) == 0
    assert names_in(out) == PARTS | REPORT and state_of(out) == "whole"


def prepared(capsys, *arguments: str) -> dict:
    assert main(["prepare", *arguments]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.costly
def test_make_writes_the_folder_and_says_so(scan: Path, tube: Path, tmp_path: Path, capsys) -> None:
    out = tmp_path / "new" / "folder"
    wanted = ["make", str(scan), "--recipe", str(tube), "--out", str(out), "--no-pictures", "--timings"]
    assert main(wanted) == 0
    told = capsys.readouterr().out
    for step in json.loads((out / "fit-report.json").read_text())["timings"]["steps_s"]:
        assert re.search(rf"^ *[0-9.]+ s  {re.escape(step)}$", told, re.MULTILINE), step
    names = {p.name for p in out.iterdir()}
    assert {"tube.stl", "mask.3mf", "fit-report.json", "recipe.json"} <= names
    assert CAUTION in told
    assert f"{len(names)} files in" in told
    assert told.index("The parts are whole in") < told.index(CAUTION)
    assert state_of(out) == "whole"
    assert trimesh.load(out / "tube.stl").is_watertight
    assert not [name for name in names if name.startswith(".")]  # no temporary file stays


@pytest.mark.costly
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
        (["--known-length", "0", "--between", "0,0,0", "0,0.2,0"], "gives no scale"),
        (["--known-length", "nan", "--between", "0,0,0", "0,0.2,0"], "gives no scale"),
        (["--known-length", "9", "--between", "-1e999,0,0", "0,0.2,0"], "not a point"),
        (["--wearer", "A\x07b"], "label"),
        (["--date", "yesterday"], "no day"),
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


def test_points_may_begin_with_a_minus(scan: Path, tmp_path: Path, capsys) -> None:
    """The same length as above, between points whose first numbers are negative."""
    found = prepared(capsys, str(scan), "--known-length", "202", "--between", "-0.01,0,0", "-.01,2e-1,-0.0")
    assert found["mm_per_unit"] == pytest.approx(1010.0)
    patch = "-0.03,-0.07,0.01,0.05"
    assert main(["prepare", str(scan), "--reference", "card", "--reference-patch", patch]) == 2
    told = capsys.readouterr().err
    assert "implausible-size" in told and "expected" not in told  # it was understood: there is no card


def test_unused_unit_and_points_off_the_scan_are_said(scan: Path, capsys) -> None:
    between = ["--known-length", "202", "--between", "0,0,0", "0,0.2,0"]
    told = " ".join(prepared(capsys, str(scan), *between, "--unit", "mm")["remarks"])
    assert "unit mm was said and not used" in told
    # The origin is on the skin under the nose; the second point is in the middle of the head.
    assert "The second point of the known length lies" in told and "first point" not in told
    near = [",".join(map(repr, (head().vertices[k] / 1000.0).tolist())) for k in (0, 5000)]
    apart = float(np.linalg.norm(head().vertices[0] - head().vertices[5000]))
    told = " ".join(prepared(capsys, str(scan), "--known-length", repr(apart), "--between", *near)["remarks"])
    assert "off the scan" not in told and "not used" not in told


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
        ('{"sellion": "0,1,2"}', "'0,1,2'"),
        ('{"sellion": {"x": 0, "y": 1, "z": 2}}', "an object"),
        ('{"sellion": [0, 0, 1' + 400 * "0" + "]}", "an endless number"),
        ('{"sellion": [0, NaN, 0]}', "[0, nan, 0]"),
        ('{"sellion": [true, 0, 0]}', "[True, 0, 0]"),
        ("[[0, 1, 2]]", "no list of names"),
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


@pytest.mark.parametrize("which", ["recipe", "report", "fit-test"])
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


def test_our_own_fault_has_a_number_and_a_file_and_no_lines_of_code(
    scan: Path, tmp_path: Path, monkeypatch, capsys
) -> None:
    import sealwright.jobs.commands

    def broken(*_: object) -> None:
        raise RuntimeError("a fault of ours")

    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    monkeypatch.setattr(sealwright.jobs.commands, "prepare_source", broken)
    assert main(["prepare", str(scan)]) == 1
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err and told.err.count("\n") == 1
    (log,) = tmp_path.rglob("fault-*.log")
    number = log.stem.removeprefix("fault-")
    assert f"number {number}" in told.err and str(log) in told.err
    assert "RuntimeError: a fault of ours" in log.read_text()
    # The same fault has the same number again, and where no file can be written the number is told alone.
    monkeypatch.setattr("sealwright.jobs.border.log_folders", lambda: [log / "below a file"])
    assert main(["prepare", str(scan)]) == 1
    again = capsys.readouterr().err
    assert f"number {number}" in again and "Details" not in again


def test_stopping_writes_nothing(scan: Path, tmp_path: Path, monkeypatch, capsys) -> None:
    import sealwright.jobs.make

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(sealwright.jobs.make, "prepare", stopped)
    assert main(["make", str(scan), "--out", str(tmp_path / "out")]) == 130
    assert list(tmp_path.iterdir()) == []
    assert "nothing was written" in capsys.readouterr().err


def test_help_loads_nothing_large() -> None:
    """So that help, version and wrong words answer at once."""
    code = "import sys, sealwright.jobs.supervise; print(*sorted(m for m in sys.modules if '.' not in m))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "sealwright" in loaded.split() and not {"numpy", "scipy", "trimesh"} & set(loaded.split())

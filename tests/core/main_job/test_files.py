"""The folder that `make` writes: the same bytes every time, STL and report of one and the same body."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator
from sealwright.jobs.cli import main
from sealwright.jobs.commands import report_text
from sealwright.limits import limit
from sealwright.recipe import Recipe, recipe_from_json
from sealwright.report.schema import report_schema

from .cases import scan_path
from .oracles import closest, distance

pytestmark = pytest.mark.heavy

TIMED = re.compile(rb'"timings": \{.*?\}\s*,\s*"total_s": [\d.]+\s*\}', re.DOTALL)

TIMED_HASH = re.compile(rb'"fit-report.json": \[\s*"[0-9a-f]{64}"\s*\]')


@pytest.fixture(scope="module")
def scan(tmp_path_factory) -> Path:
    return scan_path("marlo-by-phone", tmp_path_factory.mktemp("scan"))


@pytest.fixture(scope="module", autouse=True)
def one_day():
    """Midnight must not come between two runs; the way of reproducible builds."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1743379200")
        yield


@pytest.fixture(scope="module")
def folders(scan: Path, tmp_path_factory) -> tuple[Path, Path]:
    """The same scan made twice: in this process, and in another one with another seed of hashes."""
    first, second = tmp_path_factory.mktemp("made") / "one", tmp_path_factory.mktemp("made") / "two"
    assert main(["make", str(scan), "--wearer", "Marlo", "--out", str(first), "--no-pictures"]) == 0
    command = [
        sys.executable,
        "-m",
        "sealwright.jobs.cli",
        "make",
        str(scan),
        "--wearer",
        "Marlo",
        "--no-pictures",
        "--out",
        str(second),
    ]
    other = {**os.environ, "PYTHONHASHSEED": "77"}
    done = subprocess.run(command, env=other, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return first, second


def names(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*"))


def test_all_parts_are_there(folders: tuple[Path, Path]) -> None:
    expected = {"body.stl", "holder.stl", "mask.3mf", "fit-report.json", "fit-report.html", "recipe.json"}
    assert expected <= set(names(folders[0]))


def test_two_runs_give_identical_bytes(folders: tuple[Path, Path]) -> None:
    first, second = folders
    assert names(first) == names(second)
    for name in names(first):
        one, two = (first / name).read_bytes(), (second / name).read_bytes()
        if name.startswith("fit-report"):  # seconds are the only thing that may differ
            one, two = TIMED.sub(b"", one), TIMED.sub(b"", two)
        if name == "made.json":  # so that only the hash of the timed report may differ here
            one, two = TIMED_HASH.sub(b"", one), TIMED_HASH.sub(b"", two)
        assert one == two, name


def test_report_fits_its_schema(folders: tuple[Path, Path]) -> None:
    report = json.loads((folders[0] / "fit-report.json").read_text())
    schema = report_schema()
    Draft202012Validator.check_schema(schema)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(report)][:5] == []


def test_report_tells_what_was_tried_on_this_wearer(folders: tuple[Path, Path]) -> None:
    """A target is missed on this wearer, the best row brings it nearer, and verdicts that warn advise it."""
    report = json.loads((folders[0] / "fit-report.json").read_text())
    rows, full = report["tried"]["rows"], report["prediction"]["summary"]
    assert rows[0]["role"] == "design" and report["tried"]["draws"] == 256
    if report["cushion"] is not None:  # a bare band is not compared with itself
        assert rows[-1]["role"] == "bare"
        assert rows[-1]["pressure_p95_kpa"] > rows[0]["pressure_p95_kpa"]
    # sketch and finished mask differ by solids and draws: far less than what a remedy is to bring
    assert rows[0]["pressure_p95_kpa"] == pytest.approx(full["pressure_p95_kpa"], rel=0.1)
    kept = {
        "pressure_p95_kpa": full["pressure_p95_kpa"] <= limit("skin_pressure").value,
        "share_reaching_100": full["share_reaching_100"] >= limit("fit_factor_share").value,
        "share_holding": full["share_holding"] >= limit("hold_share").value,
    }
    assert (
        report["tried"]["missed"] == [key for key, good in kept.items() if not good] == ["pressure_p95_kpa"]
    )
    assert rows[1]["role"] == "remedy" and rows[1]["pressure_p95_kpa"] < rows[0]["pressure_p95_kpa"]
    (pressure,) = (v for v in report["verdicts"] if v["key"] == "prediction.comfort.high_kpa")
    assert pressure["verdict"] == "pass" or f"{rows[1]['what']} brings" in pressure["fix"]
    page, text = (folders[0] / "fit-report.html").read_text(), report_text(report)
    assert all(row["what"] in page and row["what"] in text for row in rows)


def test_every_file_says_whose_it_is(scan: Path, folders: tuple[Path, Path]) -> None:
    """Label as given, hashes by hashlib over the files, one design number in report, page and 3MF."""
    report = json.loads((folders[0] / "fit-report.json").read_text())
    told = report["identity"]
    assert told["wearer"] == "Marlo" and told["scan_name"] == scan.name and told["date"] == "2025-03-31"
    assert told["scan_sha256"] == hashlib.sha256(scan.read_bytes()).hexdigest()
    page = (folders[0] / "fit-report.html").read_text()
    assert f"<b>Marlo</b>. Scan: {scan.name}" in page and told["design_id"] in page
    assert "Made on 2025-03-31" in page
    with zipfile.ZipFile(folders[0] / "mask.3mf") as package:
        model = package.read("3D/3dmodel.model").decode()
    found = dict(re.findall(r'<metadata name="\w+:(\w+)"[^>]*>([^<]*)</metadata>', model))
    wanted = {k: v for k, v in told.items() if k != "date"}
    print_settings = {name for name in found if name.startswith("print_")}
    assert print_settings == {"print_supports", "print_brim", "print_seam", "print_perimeters"}
    assert {k: v for k, v in found.items() if k not in print_settings} == wanted and "2025-03-31" not in model
    assert "xmlns:" in model and "urn:sealwright:design" in model
    files = json.loads((folders[0] / "made.json").read_text())["files"]
    there = {p.name: [hashlib.sha256(p.read_bytes()).hexdigest()] for p in folders[0].iterdir()}
    assert files == {name: hashes for name, hashes in there.items() if name != "made.json"}


def test_recipe_beside_the_parts_is_the_one_used(folders: tuple[Path, Path]) -> None:
    assert recipe_from_json((folders[0] / "recipe.json").read_text()) == Recipe()


def test_anybody_can_check_the_fit_from_the_files_alone(scan: Path, folders: tuple[Path, Path]) -> None:
    """`scan_to_design` puts the scan to the STL. Only trimesh and VCG take part.

    Points of the scan that are nearest to the seal line of the report lie as far from the body as its foam
    needs, within 0.05 mm, what the foam reaches beyond, the stated bound of the smoothing, and the rounding
    of the STL (float32 of 100 mm: 4e-6 mm).
    """
    report = json.loads((folders[0] / "fit-report.json").read_text())
    body = trimesh.load(folders[0] / "body.stl")
    skin = trimesh.load(scan, process=False)
    skin.apply_transform(np.array(report["scan_to_design"]))
    # The sensor's spikes, which cleaning takes away, stretch their triangles to over twice the usual size.
    longest = np.linalg.norm(np.diff(skin.triangles[:, [0, 1, 2, 0]], axis=1), axis=2).max(axis=1)
    stretched = longest > 2.0 * np.median(longest)
    assert stretched.mean() < 0.01
    skin.update_faces(~stretched)
    line = np.array(report["stations"]["point_mm"])
    assert len(line) > 90
    gap = distance(closest(line, skin), body)
    guessed = report["scan"]["guessed_share_under_band"]
    allowed = 0.05 + report["scan"]["smoothing_bound_mm"] + 1e-5
    wanted, reach = report["contact"]["wanted_gap_mm"], report["contact"]["cushion_reach_mm"]
    off = (gap < wanted - allowed) | (gap > wanted + reach + allowed)
    assert off.mean() <= guessed


def test_stl_and_report_agree_on_the_body(folders: tuple[Path, Path]) -> None:
    report = json.loads((folders[0] / "fit-report.json").read_text())
    body = trimesh.load(folders[0] / "body.stl")
    part = report["parts"]["body"]
    assert body.is_watertight
    assert len(body.faces) == part["triangles"]
    # six significant digits in the report
    assert body.volume == pytest.approx(part["soundness"]["volume_mm3"], rel=1e-5)
    assert body.area == pytest.approx(part["area_mm2"], rel=1e-5)
    assert body.extents == pytest.approx(part["size_mm"], rel=1e-5)

"""A refusal is drawn: refusal.png in the result folder, named in the message, and nothing else there."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image
from sealwright.designing.doubts import doubts_at, name_doubts
from sealwright.errors import OffTheScan, Where
from sealwright.jobs.cli import main
from sealwright.mesh import TriMesh
from sealwright.report.refusal_picture import is_refusal_picture
from sealwright.scan.landmark_names import DEFINITIONS
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measured import ClearanceMeasured, Measured, ScanMeasured

from .test_refusals import head, ply
from .wearers import marlo_head, marlo_prepared

STAND = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])


def cropped(folder: Path, keep: np.ndarray, mesh: TriMesh) -> list[str]:
    """Arguments of a run on some triangles of the head, with the landmarks that lie on them."""
    part = mesh.submesh(keep)
    path = ply(folder / "scan.ply", part.vertices, part.faces)
    left = {n: STAND @ p for n, p in marlo_head().landmarks.items() if n in DEFINITIONS}
    near = {n: p.tolist() for n, p in left.items() if np.linalg.norm(part.vertices - p, axis=1).min() < 2.0}
    (folder / "marks.json").write_text(json.dumps(near))
    return [str(path), "--unit", "mm", "--landmarks", str(folder / "marks.json")]


def without_left_cheek(mesh: TriMesh) -> np.ndarray:
    return (mesh.vertices[:, 0] < 32.0)[mesh.faces].all(axis=1)


@pytest.fixture(scope="module")
def refused(tmp_path_factory) -> tuple[Path, list[str], int, str]:
    """One refused run: result folder, its arguments, exit code, and what was said."""
    folder = tmp_path_factory.mktemp("refused")
    scan = cropped(folder, without_left_cheek(head()), head())
    out = folder / "out"
    said = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sealwright.jobs.border.complain", said.append)
        code = main(["make", *scan, "--out", str(out)])
    return out, scan, code, "".join(said)


def test_refusal_leaves_its_picture_and_nothing_else(refused) -> None:
    out, _, code, said = refused
    assert code == 2
    assert [path.name for path in out.iterdir()] == ["refusal.png"]
    assert f"Picture: {out / 'refusal.png'}" in said
    assert "left" in said and "from the wearer's left" in said


def test_picture_marks_the_missing_place(refused) -> None:
    """Read by another library: it holds the message, and the red of missing skin in both of its halves."""
    out, _, _, said = refused
    with Image.open(out / "refusal.png") as picture:
        picture.load()
        assert picture.info["Refusal"].split(".")[0] in said
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    red = (pixels[..., 0] > 90) & (pixels[..., 1] < 60) & (pixels[..., 2] < 70)
    half = red.shape[1] // 2
    assert red[:, :half].sum() > 20 and red[:, half:].sum() > 20


def test_foreign_file_of_that_name_is_left_alone(refused, tmp_path: Path) -> None:
    _, scan, _, _ = refused
    mine = tmp_path / "refusal.png"
    mine.write_bytes(b"my own")
    assert main(["make", *scan, "--out", str(tmp_path)]) == 2
    assert mine.read_bytes() == b"my own"
    assert not is_refusal_picture(b"my own")


@pytest.mark.costly
def test_missing_landmark_is_drawn_where_it_usually_lies(tmp_path: Path, capsys) -> None:
    """A scan that ends below the lips: the chin's place is marked under it."""
    mesh = head()
    lips = float((STAND @ marlo_head().landmarks["cheilion_left"])[1])
    part = mesh.submesh((mesh.vertices[:, 1] > lips - 15.0)[mesh.faces].all(axis=1))
    path = tmp_path / "scan.ply"
    trimesh.Trimesh(part.vertices, part.faces, process=False).export(path)
    assert main(["make", str(path), "--unit", "mm", "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err
    assert "Refused (landmark)" in told and "refusal.png" in told
    assert is_refusal_picture((tmp_path / "out" / "refusal.png").read_bytes())


def test_refusal_names_the_uncertain_landmark_that_it_hangs_on() -> None:
    marlo = marlo_prepared()
    unsure = replace(marlo, confidence={**marlo.confidence, "menton": 0.3, "sellion": 0.3})
    chin = marlo.landmarks["menton"] + np.array([5.0, 5.0, -2.0])
    assert doubts_at(unsure, chin[None]) == "menton is uncertain (0.3): set it by hand."
    assert doubts_at(marlo, chin[None]) == ""
    x, y, z = (float(c) for c in chin)
    refusal = OffTheScan("The band leaves the skin.", Where("contact band", (x, y, z)), "Rescan.")
    name_doubts(refusal, unsure)
    assert refusal.fix == "Rescan. menton is uncertain (0.3): set it by hand."
    assert "menton is uncertain" in str(refusal)


def test_only_a_failing_verdict_names_the_landmark() -> None:
    doubt = {"clearance.entry_mm": "menton is uncertain (0.3): set it by hand."}
    for entry, named in ((1.5, True), (0.0, False)):
        clearance = ClearanceMeasured(wanted_mm=7.0, nose_lips_mm=7.5, entry_mm=entry)
        scan = ScanMeasured(noise_mm=0.02, smoothing_bound_mm=0.0)
        found = judge(Measured(scan=scan, landmarks={}, clearance=clearance, doubts=doubt))
        verdict = next(v for v in found if v.key == "clearance.entry_mm")
        assert verdict.fix.endswith(doubt["clearance.entry_mm"]) == named

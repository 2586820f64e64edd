"""A card in a scan of a head, marked by a place and a radius or by triangle numbers, through the job."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from bare import bare_recipe
from main_job.wearers import marlo_head
from sealwright.errors import BadRecipe, DesignError, ImplausibleSize, UnreadableFile
from sealwright.jobs.cli import main
from sealwright.jobs.make import Source, prepare_source
from sealwright.mesh import TriMesh, joined, trimesh_of
from sealwright.progress import run_to_end
from sealwright.scan.reference.reference_object import CARD
from sealwright.scan.reference.reference_patch import (
    flat_patch,
    marked_patch,
    object_patch,
    rectangle,
    reference_in_scan,
    reference_named,
)
from trials.damage_more import written
from trials.faces import random_pose

from .test_reference_object import card_mesh

WIDE, HIGH = 85.60, 53.98  # ISO/IEC 7810 ID-1, docs/standards section 8 (V63)
TWO_POINTS = ["--known-length", "9", "--between", "0,0,0", "1,1,1"]


def card_on_cloth(drop_mm: float = 4.0) -> TriMesh:
    """A sheet with a card on it: the card is level, the sheet round it lies lower and hangs on it."""
    x, y = np.meshgrid(np.linspace(-65, 65, 220), np.linspace(-50, 50, 170))
    on = (np.abs(x) <= WIDE / 2) & (np.abs(y) <= HIGH / 2)
    z = np.where(on, 0.0, -drop_mm) + np.random.default_rng(1).normal(scale=0.05, size=x.shape)
    rows, columns = x.shape
    a = (np.arange(columns - 1)[None] + columns * np.arange(rows - 1)[:, None]).ravel()
    b = a + columns
    f = np.vstack([np.stack([a, a + 1, b + 1], 1), np.stack([a, b + 1, b], 1)])
    return trimesh_of(np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1), f)


def test_patch_is_the_card_and_not_the_sheet_round_it() -> None:
    mesh = card_on_cloth()
    chosen = flat_patch(mesh, np.array([5.0, -3.0, 0.4]), 70.0)
    centre = mesh.corners[chosen].mean(axis=1)
    # One column of the sheet is 0.6 mm wide: no triangle of the slope or of the sheet is among them.
    assert np.abs(centre[:, 0]).max() < WIDE / 2 and np.abs(centre[:, 1]).max() < HIGH / 2
    area = mesh.submesh(np.isin(np.arange(len(mesh.faces)), chosen)).area
    # 4 %: a row of triangles along the border belongs half to the slope.
    assert area == pytest.approx(WIDE * HIGH, rel=0.04)


def test_an_object_of_known_size_is_found_at_a_place_on_it() -> None:
    mesh, place = card_on_cloth(), np.array([5.0, -3.0, 0.4])
    assert np.array_equal(object_patch(mesh, place, CARD, 1.0), flat_patch(mesh, place, 70.0))
    # The scale need only be known roughly: the patch ends where the card does.
    assert np.array_equal(object_patch(mesh, place, CARD, 1.15), flat_patch(mesh, place, 70.0))


def test_a_table_is_no_card() -> None:
    mesh = card_on_cloth(drop_mm=0.0)
    with pytest.raises(ImplausibleSize, match="larger than the card"):
        object_patch(mesh, np.array([0.0, 0.0, 0.0]), CARD, 1.0)
    # A card is no half of one either: its half diagonal is 50.6 mm, 1.5 times that of the other 43.7 mm.
    with pytest.raises(ImplausibleSize, match="larger than the 50 x 30 mm face"):
        object_patch(card_on_cloth(), np.array([0.0, 0.0, 0.0]), rectangle(30.0, 50.0), 1.0)


def test_places_that_are_not_flat_are_refused() -> None:
    head = marlo_head().mesh
    tip = marlo_head().landmarks["pronasale"]
    with pytest.raises(ImplausibleSize, match=r"flat|triangles"):
        reference_in_scan(head, "card", ",".join(str(c) for c in [*tip, 40.0]))
    with pytest.raises(ImplausibleSize, match="0 triangles"):
        flat_patch(head, np.array([500.0, 0.0, 0.0]), 40.0)


def head_with_card(units: float) -> tuple[TriMesh, str]:
    """Marlo with a card before the forehead, in some unit and pose, and where the card is marked."""
    flat = card_mesh().moved(np.linalg.inv(random_pose(11)))
    front = np.array([[1.0, 0, 0, -42.8], [0, 0, -1.0, -8.0], [0, 1.0, 0, 95.0], [0, 0, 0, 1.0]])
    move = random_pose(4)
    move[:3] *= units
    mesh = joined(marlo_head().mesh, flat.moved(front)).moved(move)
    middle = move @ front @ np.array([42.8, 27.0, 0.0, 1.0])
    return mesh, ",".join(f"{c:.9g}" for c in [*middle[:3], 55.0 * units])


@pytest.mark.parametrize("units", [0.1, 1.02])
def test_scale_comes_from_the_card(units: float, tmp_path: Path) -> None:
    """Also where the unit is no usual one: 1.02 is a scanner that is 2 % out."""
    mesh, patch = head_with_card(units)
    path = tmp_path / "scan.ply"
    path.write_bytes(written(mesh, "ply"))
    prepared = run_to_end(
        prepare_source(Source(path, reference="card", reference_patch=patch), bare_recipe())
    )
    # 0.2 %: the strip lines leave 0.1 %, single precision of the file the rest.
    assert prepared.mm_per_unit == pytest.approx(1.0 / units, rel=2e-3)
    assert prepared.unit == ""
    assert abs(prepared.reference.distortion) < 2e-3
    assert prepared.reference.flatness_mm < 0.01
    said = [r.text for r in prepared.remarks if r.where.role == "reference object"]
    assert len(said) == 1 and "card (ISO/IEC 7810 ID-1)" in said[0] and "mm per unit" in said[0]
    found = np.linalg.norm(prepared.landmarks["sellion"] - prepared.landmarks["menton"])
    assert found == pytest.approx(marlo_head().wearer.face_length_mm, rel=0.06)  # landmarks to 6 mm


def test_without_a_reference_nothing_is_said(tmp_path: Path) -> None:
    path = tmp_path / "scan.ply"
    path.write_bytes(written(marlo_head().mesh, "ply"))
    prepared = run_to_end(prepare_source(Source(path), bare_recipe()))
    assert prepared.reference is None


def test_command_line_and_triangle_numbers(tmp_path: Path, capsys) -> None:
    mesh, _ = head_with_card(1.0)
    path, marks = tmp_path / "scan.stl", tmp_path / "card.json"
    path.write_bytes(written(mesh, "stl"))
    marks.write_text(json.dumps(list(range(len(marlo_head().mesh.faces), len(mesh.faces)))))
    assert main(["prepare", str(path), "--reference", "card", "--reference-patch", str(marks)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["mm_per_unit"] == pytest.approx(1.0, rel=2e-3)
    assert abs(found["reference"]["reference_distortion"]) < 2e-3


@pytest.mark.parametrize(
    "options",
    [
        ["--reference", "card"],
        ["--reference-patch", "0,0,0,5"],
        ["--reference", "coin", "--reference-patch", "0,0,0,5"],
        ["--reference", "card", "--reference-patch", "0,0,0"],
        ["--reference", "card", "--reference-patch", "0,0,0,-5"],
        ["--reference", "card", "--reference-patch", "none.json"],
        ["--reference", "card", "--reference-patch", "0,0,0,5", *TWO_POINTS],
    ],
)
def test_options_that_say_too_little_are_refused(options: list[str], tmp_path: Path, capsys) -> None:
    path = tmp_path / "scan.stl"
    path.write_bytes(written(card_mesh(), "stl"))
    assert main(["prepare", str(path), *options]) == 2
    assert "Mend:" in capsys.readouterr().err


def test_names_of_references() -> None:
    assert reference_named(" Card ").long_mm == WIDE
    box = reference_named("80x120.5")
    assert (box.long_mm, box.short_mm, box.name) == (120.5, 80.0, "120.5 x 80 mm face")
    for wrong in ("", "card2", "80", "80x", "80x5", "nanx50", "infx50", "80x120x9"):
        with pytest.raises(BadRecipe):
            reference_named(wrong)


@pytest.mark.parametrize("content", ["", "{}", "[1.5]", "[true]", "[99999999999999999999]", '["a"]', "[[1]]"])
def test_files_that_mark_no_patch(content: str, tmp_path: Path) -> None:
    path = tmp_path / "patch.json"
    path.write_text(content)
    with pytest.raises(UnreadableFile):
        marked_patch(card_mesh(), str(path))


def test_reference_of_the_wrong_size_is_refused() -> None:
    mesh, patch = head_with_card(1.0)
    with pytest.raises(DesignError, match="differ by"):
        reference_in_scan(mesh, "120x60", patch)
    with pytest.raises(ImplausibleSize, match="mm long"):
        reference_in_scan(mesh, "856x539.8", patch)

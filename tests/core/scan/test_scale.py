"""Units said, stated, guessed and measured."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import ImplausibleSize
from sealwright.mesh import TriMesh
from sealwright.scan.reference.scale import (
    MM_PER_UNIT,
    guess_scale,
    in_millimetres,
    longest_extent,
    scale_from_length,
    scale_from_unit,
)
from trials.faces import COMPOSITES, HEADS, OTHERS, SENSORS, face_scan, random_pose

EVERY = HEADS + SENSORS + COMPOSITES + OTHERS


def in_unit(name: str, unit: str) -> TriMesh:
    mesh = face_scan(name).moved(random_pose(3))
    return TriMesh(mesh.vertices / MM_PER_UNIT[unit], mesh.faces)


@pytest.mark.scans
@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("unit", ["mm", "m"])
def test_unit_is_guessed(name: str, unit: str) -> None:
    scale = guess_scale(in_unit(name, unit))
    assert scale.unit == unit
    assert scale.mm_per_unit == MM_PER_UNIT[unit]
    assert scale.confidence > 0.8
    assert scale.remarks


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize("name", ["face-f26", "head-c", "sculpt-small-closed"])
@pytest.mark.parametrize("unit", ["cm", "in"])
def test_centimetres_and_inches_are_told_apart_by_the_face(name: str, unit: str) -> None:
    scale = guess_scale(in_unit(name, unit))
    assert scale.unit == unit
    assert scale.confidence > 0.5


@pytest.mark.scans
def test_wrong_unit_is_refused_and_the_likely_one_named() -> None:
    mesh = in_unit("head-a", "m")
    with pytest.raises(ImplausibleSize) as caught:
        scale_from_unit(mesh, "mm")
    assert "metres" in caught.value.what
    assert "--unit m." in caught.value.fix
    assert scale_from_unit(mesh, "m").mm_per_unit == 1000.0


@pytest.mark.scans
def test_inches_said_of_a_scan_in_centimetres_are_refused() -> None:
    with pytest.raises(ImplausibleSize) as caught:
        scale_from_unit(in_unit("face-f26", "cm"), "in")
    assert "--unit cm." in caught.value.fix


@pytest.mark.scans
def test_unit_of_the_file_is_kept_unless_the_size_denies_it() -> None:
    assert guess_scale(in_unit("face-m36", "m"), "m").source == "stated by the file"
    denied = guess_scale(in_unit("face-m36", "mm"), "m")
    assert denied.unit == "mm"
    assert "The file says metres" in denied.remarks[0].text
    assert denied.remarks[0].level == "warning"


@pytest.mark.scans
def test_what_is_no_size_of_a_head() -> None:
    mesh = face_scan("face-f26")
    with pytest.raises(ImplausibleSize):
        guess_scale(TriMesh(mesh.vertices * 37.0, mesh.faces))
    with pytest.raises(ImplausibleSize):
        scale_from_unit(mesh, "furlong")


@pytest.mark.scans
def test_known_length_gives_the_scale() -> None:
    mesh = face_scan("head-b")
    odd = TriMesh(mesh.vertices * 0.031, mesh.faces)
    a, b = odd.vertices[100], odd.vertices[9000]
    true = float(np.linalg.norm(mesh.vertices[100] - mesh.vertices[9000]))
    scale = scale_from_length(odd, a, b, true)
    assert scale.mm_per_unit == pytest.approx(1 / 0.031, rel=1e-12)
    assert longest_extent(in_millimetres(odd, scale)) == pytest.approx(longest_extent(mesh), rel=1e-12)


@pytest.mark.scans
@pytest.mark.parametrize(
    ("length", "spot"), [(0.0, 9000), (-5.0, 9000), (float("nan"), 9000), (80.0, 100), (3.0, 9000)]
)
def test_known_lengths_that_give_no_scale(length: float, spot: int) -> None:
    mesh = face_scan("head-b")
    with pytest.raises(ImplausibleSize):
        scale_from_length(mesh, mesh.vertices[100], mesh.vertices[spot], length)

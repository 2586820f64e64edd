"""Marks of what was changed: nothing on clean skin, and each change at its place with its amount."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from main_job.wearers import marlo_prepared
from sealwright.designing.prepared import Prepared
from sealwright.errors import Remark, Where
from sealwright.face.surface import face_chart, face_surface
from sealwright.mesh import TriMesh
from sealwright.trust.skin_marks import skin_marks

PLACE = np.array([38.0, 22.0, -20.0])  # on the left cheek of Marlo, within 10 mm of the skin


def with_skin(skin: TriMesh) -> Prepared:
    face = face_surface(skin, face_chart(marlo_prepared().size))
    return replace(marlo_prepared(), face=face, skin=skin)


def test_clean_skin_has_no_marks() -> None:
    marks = skin_marks(marlo_prepared())
    assert len(marks.kind) == len(marks.mesh.vertices) > 50_000
    assert not marks.kind.any()


def test_smoothing_is_marked_by_its_amount() -> None:
    skin = marlo_prepared().skin
    noise = np.random.default_rng(1).normal(scale=0.15, size=len(skin.vertices))
    prepared = with_skin(TriMesh(skin.vertices + noise[:, None] * skin.vertex_normals, skin.faces))
    marks = skin_marks(prepared)
    known = prepared.face.known
    assert np.abs(marks.moved_mm).max() == pytest.approx(prepared.face.smoothing.bound_mm)
    # Every vertex of the sheet is one pixel, and has the move of that pixel.
    moved = np.sort(prepared.face.smoothing.moved_mm[known])
    assert len(moved) - len(marks.moved_mm) < 0.01 * len(moved)
    assert np.isin(marks.moved_mm, moved).all()


def test_filled_hole_and_spike_are_marked_where_they_are() -> None:
    skin = marlo_prepared().skin
    place = skin.vertices[np.argmin(np.linalg.norm(skin.vertices - PLACE, axis=1))]
    keep = np.linalg.norm(skin.vertices - place, axis=1) > 6.0
    other = skin.vertices[np.argmin(np.linalg.norm(skin.vertices - PLACE * [-1, 1, 1], axis=1))]
    spot = tuple(float(c) for c in other)
    remark = Remark("note", "1 spikes were pulled back.", Where("scan", frame="scan", spots=(spot,)))
    prepared = replace(with_skin(skin.submesh(keep[skin.faces].all(axis=1))), remarks=(remark,))
    marks = skin_marks(prepared)
    # The hole is 6 mm wide plus up to one triangle (2.6 mm, seen aslant) all round.
    assert 0 < np.linalg.norm(marks.mesh.vertices[marks.guessed] - place, axis=1).max() < 11.0
    assert 0 < np.linalg.norm(marks.mesh.vertices[marks.repaired] - other, axis=1).max() < 1.5
    assert set(np.unique(marks.kind)) == {0.0, 2.0, 3.0}

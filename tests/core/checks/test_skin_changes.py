"""Amounts of what was changed under the seal: none on clean skin; each change with its known amount."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bare import BARE_BAND, BARE_LINE
from main_job.wearers import marlo_prepared
from sealwright.designing.prepared import Prepared
from sealwright.errors import Remark, Where
from sealwright.face.surface import face_chart, face_surface
from sealwright.facepiece.seal_line import SealLine
from sealwright.facepiece.seal_line_proposal import seal_line
from sealwright.mesh import TriMesh
from sealwright.trust.skin_changes import SkinChanges, changes_under_seal
from sealwright.trust.verdicts import seal_trust

RADIUS_MM = 5.0  # of the holes that are cut into the skin


@cache
def line() -> SealLine:
    face = marlo_prepared()
    return seal_line(face.face, face.landmarks, BARE_LINE, 192, BARE_BAND.inner_mm)


def with_skin(skin: TriMesh) -> Prepared:
    return replace(marlo_prepared(), face=face_surface(skin, face_chart(marlo_prepared().size)), skin=skin)


def changed(prepared: Prepared) -> SkinChanges:
    return changes_under_seal(prepared, line(), BARE_BAND, seal_trust(prepared, line(), BARE_BAND))


def test_clean_skin_is_as_scanned() -> None:
    assert changed(marlo_prepared()) == SkinChanges(0, 0.0, 0.0, 0.0, 0)
    assert changed(marlo_prepared()).sentence == "Under the seal the skin is as it was scanned."


def test_holes_are_counted_with_the_seal_line_over_them() -> None:
    skin, stations = marlo_prepared().skin, (40, 150)
    keep = np.ones(len(skin.vertices), dtype=bool)
    for station in stations:
        keep &= np.linalg.norm(skin.vertices - line().points[station], axis=1) > RADIUS_MM
    keep &= np.linalg.norm(skin.vertices - marlo_prepared().landmarks["pronasale"], axis=1) > RADIUS_MM
    found = changed(with_skin(skin.submesh(keep[skin.faces].all(axis=1))))
    assert found.holes == 2  # the third, on the nose tip, lies under no band
    # Two holes of this diameter; whole triangles (edges up to 2.6 mm) go, so each is up to 2 x 2.6 mm wider.
    assert 2 * 2 * RADIUS_MM - 4.0 < found.hole_line_mm < 2 * (2 * RADIUS_MM + 5.2) + 4.0
    assert found.sentence.startswith("Changed under the seal: 2 holes filled under ")


def test_smoothing_is_told_by_its_largest_move() -> None:
    skin = marlo_prepared().skin
    noise = np.random.default_rng(1).normal(scale=0.15, size=len(skin.vertices))
    prepared = with_skin(TriMesh(skin.vertices + noise[:, None] * skin.vertex_normals, skin.faces))
    found = changed(prepared)
    # Thousands of pixels of normal noise: the largest move reaches the bound (1.5 times the noise).
    assert found.moved_mm == pytest.approx(found.bound_mm) == prepared.face.smoothing.bound_mm
    assert f"moved by at most {found.bound_mm:.2f} mm" in found.sentence


def test_spikes_beside_the_band_do_not_count() -> None:
    spots = (tuple(float(c) for c in line().points[60]), (0.0, -20.0, 40.0))
    scan = np.linalg.inv(marlo_prepared().scan_to_design)
    spots = tuple(tuple(float(c) for c in scan[:3, :3] @ np.array(s) + scan[:3, 3]) for s in spots)
    remark = Remark("note", "2 spikes were pulled back.", Where("scan", frame="scan", spots=spots))
    found = changed(replace(marlo_prepared(), remarks=(remark,)))
    assert found.spikes == 1
    assert found.sentence == "Changed under the seal: 1 spike pulled back."

"""Pictures for the maker: what the overhang limit does, and the ring in its gland."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from sealwright.cushion.band_face import band_face_of
from sealwright.facepiece.contact_band import grid_normals
from sealwright.jobs.print_job import plan_part
from sealwright.predict.band import skin_under
from sealwright.progress import run_to_end
from sealwright.report import gallery, print_pictures
from sealwright.report.page.top import CAPTIONS
from sealwright.report.print_scene import overhang_angles
from sealwright.report.shown_parts import along_band, worn_cushion
from sealwright.solids.boolean import shared_volume, solid_of

from . import samples


def test_pictures_for_the_print_show_what_the_limit_does(monkeypatch):
    monkeypatch.setattr(print_pictures, "SIZE", (96, 72))
    monkeypatch.setattr(print_pictures, "_HALF", (64, 96))
    plans = {"body": plan_part(samples.design(), "body")}
    made = run_to_end(print_pictures.print_pictures(samples.design(), plans))
    assert list(made) == ["print-bed.png", "print-limit.png"]
    assert Image.open(io.BytesIO(made["print-limit.png"])).size == (128, 96)
    plan = plans["body"]
    free = print_pictures._free_body(samples.design(), plan)
    assert free.bounds[0, 2] == pytest.approx(0.0, abs=1e-9)
    own = plan.mesh.moved(plan.placement)
    # Both stand on the port alone: no holder hides the body from below.
    feet = [part.vertices[part.vertices[:, 2] < 1.0, :2] for part in (own, free)]
    assert np.ptp(feet[1], axis=0) == pytest.approx(np.ptp(feet[0], axis=0), rel=0.05)
    # Area 2 degrees past the limit: bars of lugs and facets of the thread with it, whole sides without.
    past = samples.design().recipe.printer.overhang_deg + 2.0
    steep = [float(part.face_areas[overhang_angles(part).mean(axis=1) > past].sum()) for part in (own, free)]
    assert steep[1] > 2.0 * steep[0], steep
    tube = run_to_end(print_pictures.print_pictures(samples.tube(), {}))
    assert tube == {}
    assert all(name in CAPTIONS for name in ("print-bed", "print-limit"))


def test_ring_of_the_joint_s_picture_lies_in_its_gland():
    port = samples.design().ports[0]
    (shown,) = gallery._ring(port)
    ring = solid_of(shown.mesh, "ring")
    for name in ("body", "holder"):
        assert shared_volume(ring, samples.design().parts[name]) < 1e-3
    # It fills the gland's depth: moved on by 0.1 mm either way it hits land or floor.
    for way in (0.1, -0.1):
        step = np.eye(4)
        step[:3, 3] = way * port.frame[:3, 2]
        assert sum(shared_volume(ring.moved(step), s) for s in samples.design().parts.values()) > 5.0
    assert "joint-section" in CAPTIONS


def test_worn_foam_follows_band_and_skin_without_folds():
    """Cells of its two sides against their neighbours; both sides against the measured skin and the body."""
    design = samples.design()
    assert design.band is not None and design.cushion is not None and design.cushion.worn is None
    hard = band_face_of(design.band, design.parts["body"].mesh)
    for places in (hard.grid, skin_under(design.prepared.face, hard.grid)):
        shown = along_band(band_face_of(design.band), places)
        normals = grid_normals(shown)
        for axis in (0, 1):
            turned = (normals * np.roll(normals, 1, axis=axis)).sum(axis=-1)[:, 1:]
            assert turned.min() > 0.9, turned.min()  # 26 deg from one to the next, 2 mm on; common practice
        off = np.linalg.norm(shown - places, axis=-1)
        assert np.median(off) < 0.2  # mm; a crease is bridged, skin that is smooth is not left
    assert worn_cushion(design).volume > 0.0

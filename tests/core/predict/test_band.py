"""The band as laid for the physics: gap from the finished body, from the stand-off, from the smoothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import bare_recipe
from sealwright.errors import DoesNotFit
from sealwright.face.denoise import Smoothed
from sealwright.face.stand_off import StandOff
from sealwright.predict.band import band_on_skin, lay_band, smoothing_at

from .wearers import finished, invented, sketched


def test_measured_gap_of_a_finished_body_is_the_stand_off():
    # docs/design invariant 2: the body follows the skin at the stand-off (here 0) within 0.05 mm.
    band = band_on_skin(finished())
    assert np.abs(finished().fit.seal_gap).max() < 0.05
    assert np.abs(band.gap_mm).max() < 0.05
    assert np.abs(lay_band(invented(), finished().band).gap_mm).max() == 0.0


def test_area_is_length_times_width():
    # A strip of even width on gently curved skin: length of the middle line times width; the seal line lies
    # off the middle by 0.05 of the width, and the strip is curved in its plane, hence 4 %.
    design = sketched()
    area = float(band_on_skin(design).patch.areas.sum())
    width = design.recipe.band.width_mm
    assert area == pytest.approx(design.seal_line.length_mm * width, rel=0.04)


def test_points_lie_on_the_skin_and_normals_look_out():
    band = band_on_skin(sketched())
    assert np.abs(invented().face.height_of(band.places)).max() < 1e-9
    away = band.patch.points - invented().face.chart.centre
    assert ((away * band.patch.normals).sum(axis=1) > 0).all()


def test_grid_gives_values_back_outer_edge_first():
    band = band_on_skin(sketched())
    assert np.allclose(band.grid(band.patch.points), band.places)
    assert np.allclose(band.grid(band.patch.across_mm), band.across_mm[None, :])
    assert band.across_mm[0] > 0.0 > band.across_mm[-1]


def test_skin_that_was_smoothed_away_becomes_a_gap():
    # Where smoothing had lifted the skin by 0.2 mm along the rays, the measured skin lies 0.2 mm times the
    # slant deeper.
    face = invented().face
    lifted = Smoothed(face.radii, np.full_like(face.radii, 0.2), 0.3)
    noisy = replace(invented(), face=replace(face, smoothing=lifted))
    band = lay_band(noisy, replace(sketched().band, stand_off=StandOff(0.1)))
    pq, _ = face.chart.place_of(band.places)
    slant = (face.chart.direction_at(pq) * face.normal_at(pq)).sum(-1)
    assert np.allclose(band.gap_mm, 0.1 + 0.2 * slant, atol=1e-9)


def test_single_readings_are_averaged_over_the_share_of_a_point():
    # White noise of deviation 0.2 mm in squares of 3 mm on pixels of 0.75 mm: 16 readings each, bilinear
    # sampling averages a little more.
    face = invented().face
    noise = np.random.default_rng(1).normal(scale=0.2, size=face.radii.shape)
    noisy = replace(face, smoothing=Smoothed(face.radii, noise, 0.3))
    pq, _ = face.chart.place_of(band_on_skin(sketched()).places)
    side = round(3.0 / face.pitch_mm)
    assert smoothing_at(noisy, pq, 3.0).std() == pytest.approx(0.2 / side, rel=0.15)


def test_a_tube_has_no_band():
    with pytest.raises(DoesNotFit, match="tube"):
        band_on_skin(replace(sketched(), band=None, recipe=bare_recipe(kind="tube")))

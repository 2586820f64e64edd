"""Lugs: sound, rounded, slot as wide as the webbing needs, stress by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sealwright.errors import BadRecipe
from sealwright.hardware.lugs import make_lug
from sealwright.hardware.options import LugSettings
from sealwright.solids.boolean import shared_volume
from sealwright.solids.primitives import cuboid
from sealwright.tables import table

from .gauges import ALLOWANCE, require_printable_solid

SETTINGS = LugSettings()
LUG = make_lug(SETTINGS, ALLOWANCE)


def test_lug_is_one_sound_piece_with_one_slot() -> None:
    require_printable_solid(LUG.solid)
    assert LUG.solid.genus == 1


def test_root_sinks_as_far_as_asked_and_no_further() -> None:
    assert LUG.solid.mesh.bounds[0, 2] == pytest.approx(-SETTINGS.sink_mm)
    assert LUG.facts["lug_height_mm"] == pytest.approx(LUG.solid.mesh.bounds[1, 2], abs=0.01)


def test_webbing_goes_through_the_slot() -> None:
    # A strip of the webbing's width and thickness plus 1 mm, along the normal of the loop's plane.
    tip = np.array([0.0, 0.0])
    reach = SETTINGS.strap_thickness_mm + 2.0 + SETTINGS.bar_mm
    rise = math.radians(SETTINGS.rise_deg)
    root_z = 0.5 * SETTINGS.bar_mm - SETTINGS.sink_mm
    tip = np.array([reach * math.cos(rise), root_z + reach * math.sin(rise)])
    middle = 0.5 * (np.array([0.0, root_z]) + tip)
    half = 0.5 * (SETTINGS.strap_thickness_mm + 0.9)
    strip = cuboid(
        (-0.5 * SETTINGS.strap_width_mm - 0.5, -half, -30),
        (0.5 * SETTINGS.strap_width_mm + 0.5, half, 30),
        "webbing",
    )
    frame = np.eye(4)
    c, s = math.cos(rise), math.sin(rise)
    frame[1:3, 1:3] = [[c, -s], [s, c]]
    frame[1:3, 3] = middle
    assert shared_volume(strip.moved(frame), LUG.solid) == 0.0


def test_slot_follows_the_practice_in_the_table() -> None:
    rules = table("straps")
    low, high = rules["slot_longer_than_width_mm"]["usual"]
    assert low <= LUG.facts["lug_slot_length_mm"] - SETTINGS.strap_width_mm <= high
    assert LUG.facts["lug_bar_diameter_mm"] >= rules["least_wall_mm"]["value"]


def test_every_edge_is_rounded() -> None:
    # No two triangles meet at a sharp outer edge: balls of 24 meridians bend by 15 degrees from facet to
    # facet.
    mesh = LUG.solid.mesh
    import trimesh

    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    real = shape.face_adjacency_angles[shape.face_adjacency_convex]
    long = np.linalg.norm(np.diff(mesh.vertices[shape.face_adjacency_edges], axis=1)[:, 0], axis=1)
    assert np.degrees(real[long[shape.face_adjacency_convex] > 0.2].max()) < 31.0


def test_stress_by_hand() -> None:
    # bar: F L / 8 over pi d^3 / 32 with F = 50 N, L = 15 + 1.5 + 5 = 21.5 mm, d = 5 mm: 134.4 / 12.27 =
    # 10.95 MPa
    assert LUG.facts["lug_bar_stress_mpa"] == pytest.approx(50 * 21.5 / 8 / (math.pi * 125 / 32), rel=1e-12)
    assert LUG.facts["lug_bar_stress_mpa"] == pytest.approx(10.95, abs=0.01)
    # PETG 45 MPa along the layers, half of it across them (from memory)
    assert LUG.facts["lug_strength_across_layers_mpa"] == pytest.approx(22.5)
    assert LUG.facts["lug_bears_n"] > table("straps")["pull_n"]["value"]
    assert LUG.remarks == ()


def test_weak_and_wide_lugs_are_remarked() -> None:
    weak = make_lug(replace(SETTINGS, bar_mm=3.0), ALLOWANCE)
    assert weak.remarks[0].level == "risk"
    wide = make_lug(replace(SETTINGS, strap_width_mm=25.0, bar_mm=7.0), ALLOWANCE)
    assert "bridges 26.5 mm" in wide.remarks[0].text


def test_value_out_of_range_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        make_lug(replace(SETTINGS, bar_mm=1.0), ALLOWANCE)
    assert caught.value.where.key == "lug.bar_mm"


def test_root_follows_a_wall_that_falls_away() -> None:
    fallen = make_lug(SETTINGS, ALLOWANCE, fall_mm=(1.0, 2.0))
    require_printable_solid(fallen.solid)
    left = fallen.solid.mesh.vertices[fallen.solid.mesh.vertices[:, 0] < 0]
    assert left[:, 2].min() == pytest.approx(-SETTINGS.sink_mm - 1.0, abs=0.01)
    assert fallen.solid.mesh.bounds[0, 2] == pytest.approx(-SETTINGS.sink_mm - 2.0)
    assert fallen.solid.mesh.bounds[1, 2] == pytest.approx(LUG.solid.mesh.bounds[1, 2])  # the bar stays


def test_lower_end_grows_out_of_the_wall_at_its_slope() -> None:
    # Upward in the print is +Y: nothing of the root above the wall (z > 0) hangs over steeper than its 30
    # degrees, but for the rounding of its edges.
    mesh = LUG.solid.mesh
    root = (mesh.corners[:, :, 1].max(axis=1) < -SETTINGS.base_length_mm) & (
        mesh.corners[:, :, 2].min(axis=1) > 0.3
    )
    flat = root & (mesh.face_areas > 1.0)
    assert flat.any()
    overhang = np.degrees(np.arcsin(-mesh.face_normals[flat, 1]))
    # facets of 15 degrees touch the slope from both sides, the nearest within 7.5 degrees
    assert 22.0 < overhang.max() < 37.6


def test_lug_on_a_leaning_wall_keeps_closer() -> None:
    leaning = make_lug(SETTINGS, ALLOWANCE, lean_deg=25.0)
    assert leaning.facts["lug_rise_deg"] == pytest.approx(20.0)
    assert leaning.facts["lug_gap_under_bar_mm"] < LUG.facts["lug_gap_under_bar_mm"]
    assert make_lug(SETTINGS, ALLOWANCE, lean_deg=60.0).facts["lug_rise_deg"] == pytest.approx(8.0)
    require_printable_solid(leaning.solid)

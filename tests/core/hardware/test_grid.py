"""Grid: spokes never further apart than wanted, areas and roof by plain geometry."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from sealwright.hardware import grid
from sealwright.hardware.options import HolderSettings
from sealwright.solids.boolean import pieces

SETTINGS = HolderSettings(grid_mm=2.0, bar_mm=1.2, plenum_mm=3.0, plenum_rise_mm=0.0)


@pytest.mark.parametrize("reach", [30.0, 49.0, 62.6, 80.0])
@pytest.mark.parametrize("opening", [5.0, 9.0, 13.0])
def test_spokes_are_never_further_apart_than_the_opening(reach: float, opening: float) -> None:
    rings = grid.tiers(reach, opening, 1.2)
    assert rings[-1].outer_mm == reach
    for ring in rings:
        assert 2 * math.pi * ring.outer_mm / ring.spokes - 1.2 <= opening + 1e-9
    for inner, outer in itertools.pairwise(rings):
        assert inner.outer_mm == pytest.approx(outer.inner_mm)
        assert outer.spokes == 2 * inner.spokes  # so spokes stand in line and ribs carry on


def test_openings_are_separate_and_as_many_as_spokes_and_rings_make() -> None:
    rings = grid.tiers(49.0, 9.0, 1.2)
    cutter = grid.opening_cutter(rings, SETTINGS)
    rows = [max(1, math.ceil((r.outer_mm - r.inner_mm) / 10.2 - 1e-9)) for r in rings]
    assert len(pieces(cutter)) == sum(r.spokes * n for r, n in zip(rings, rows, strict=True))


def test_one_opening_has_the_area_of_its_sector() -> None:
    # Ring sector less half a bar at each straight side: area = (R^2 - r^2)(pi/N) - b (R - r), R and r at
    # the ring bars' edges; the arcs are three chords each, which leaves 0.4 % at eight spokes and less
    # beyond.
    ring = grid.Tier(32, 30.0, 38.0)
    height = SETTINGS.grid_mm + 1.5
    one = grid.opening_cutter([ring], SETTINGS).volume / 32 / height
    inner, outer = 30.6, 37.4
    sector = (outer**2 - inner**2) * math.pi / 32 - 1.2 * (outer - inner)
    assert one == pytest.approx(sector, rel=0.004)


def level(height: float) -> grid.Roof:
    """A roof without a cone."""
    return grid.Roof((17.0, 18.0, 19.0, 20.0), (height,) * 4)


def test_channels_have_a_level_roof_that_bridges_cleanly() -> None:
    ring = grid.Tier(16, 20.0, 26.0)
    cutter = grid.channel_cutters([ring], SETTINGS, level(SETTINGS.grid_mm + SETTINGS.plenum_mm))[0]
    assert len(pieces(cutter)) == 16
    roof = SETTINGS.grid_mm + SETTINGS.plenum_mm
    assert cutter.mesh.bounds[1, 2] == pytest.approx(roof)
    # One channel lies about 11.25 degrees: its roof, seen along the channel, is nowhere wider than 5 mm.
    angle = math.pi / 16
    own = cutter.mesh.vertices
    own = own[(abs(np.arctan2(own[:, 1], own[:, 0]) - angle) < angle) & (own[:, 2] > roof - 1e-6)]
    across = own[:, 1] * math.cos(angle) - own[:, 0] * math.sin(angle)
    assert np.ptp(across) <= 5.0 + 1e-9
    # Where ribs lean they stay under 45 degrees from the vertical, with two degrees to spare.
    lean = cutter.mesh.face_normals[:, 2]
    lean = lean[(lean > 0.05) & (lean < 0.99)]
    assert len(lean)
    assert np.degrees(np.arcsin(lean.max())) < 43.1


def test_channel_area_is_that_of_the_section() -> None:
    # By hand at 26 mm: half = 26 tan(11.25 deg) - 0.6 / cos(11.25 deg) = 4.5599; lean 2.0599
    half = 26.0 * math.tan(math.pi / 16) - 0.6 / math.cos(math.pi / 16)
    lean = half - 2.5
    by_hand = 16 * (2 * half * 3.0 - 1.1 * lean * lean)
    assert grid.channel_area_mm2(grid.Tier(16, 20.0, 26.0), SETTINGS, level(5.0), 26.0) == pytest.approx(
        by_hand
    )


def test_roof_rises_to_the_bore_and_is_level_where_ribs_end() -> None:
    settings = HolderSettings()
    rings = grid.tiers(57.0, settings.opening_mm, settings.bar_mm)
    roof = grid.roof_of(settings, 17.0, rings)
    heights = [roof.at(radius) for radius in np.linspace(10.0, 57.0, 95)]
    assert heights[0] == pytest.approx(settings.grid_mm + settings.plenum_mm + settings.plenum_rise_mm)
    assert heights[-1] == pytest.approx(settings.grid_mm + settings.plenum_mm)
    assert (np.diff(heights) <= 1e-12).all()
    for ring in rings[1:]:
        assert roof.at(ring.inner_mm - 1.9) == pytest.approx(roof.at(ring.inner_mm + 1.9))


def test_spoke_stress_by_hand() -> None:
    # 20 N on four beams of 35 mm span, 1.2 x 5 mm: M = 5 x 35 / 4 = 43.75 N mm, W = 1.2 x 25 / 6 = 5 mm3
    assert grid.spoke_stress_mpa(SETTINGS, 35.0, 4, 20.0) == pytest.approx(8.75)

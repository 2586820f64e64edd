"""The design without solids agrees with the one with solids."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare_recipe
from sealwright.designing.chamber_air import chamber_ml
from sealwright.designing.sketch import sketch
from sealwright.errors import DoesNotFit
from sealwright.face.surface import face_chart
from sealwright.stage_cache import StageCache

from .test_straps import ball
from .wearers import finished, invented, sketched


def test_chamber_agrees_with_the_solid():
    # Over the same shell the sum differs from the trimmed solid by their facets; the sketch has a coarser
    # wall besides.
    solid = finished().void.volume / 1000.0
    assert chamber_ml(invented().face, finished().shell.chamber_side) == pytest.approx(solid, rel=0.01)
    assert sketched().chamber_ml == pytest.approx(solid, rel=0.05)


def test_chamber_over_a_ball_is_a_shell_between_cones():
    # Volume between two concentric spheres over a cap: solid angle (R^3 - r^3) / 3. The chamber side is put
    # on a sphere of 90 mm over a ball of 70 mm, with a flat disc at the port, so the cap is known exactly but
    # for the facets of the grid: 2 %.
    chart, stations, rows = face_chart(), 96, 24
    angle = np.linspace(0.5, 0.1, rows)
    turn = 2 * np.pi * np.arange(stations) / stations
    local = np.stack(
        [
            np.sin(angle)[None] * np.cos(turn)[:, None],
            np.sin(angle)[None] * np.sin(turn)[:, None],
            np.broadcast_to(np.cos(angle), (stations, rows)),
        ],
        axis=-1,
    )
    grid = chart.centre + 90.0 * local @ chart.axes

    cap = 2 * np.pi * (1 - np.cos(0.5))
    shell = cap * (90.0**3 - 70.0**3) / 3000.0
    # The disc at the port lies below the sphere: a spherical cap of half angle 0.1 is missing.
    height = 90.0 * (1 - np.cos(0.1))
    missing = np.pi * height**2 * (3 * 90.0 - height) / 3000.0
    assert chamber_ml(ball(70.0), grid) == pytest.approx(shell - missing, rel=0.02)


def test_line_and_band_are_those_of_the_preview_and_the_cache_is_used():
    cache = StageCache()
    first, second = (
        sketch(invented(), bare_recipe(), cache=cache),
        sketch(invented(), bare_recipe(), cache=cache),
    )
    assert first.band is second.band
    assert np.array_equal(first.band.grid, sketched().band.grid)
    assert len(first.straps) == 4 and not first.parts


def test_a_tube_is_refused():
    with pytest.raises(DoesNotFit, match="tube"):
        sketch(invented(), bare_recipe(kind="tube"))

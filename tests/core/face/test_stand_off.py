"""The skin grown by a stand-off with rounded creases, against a groove whose offset and fillet are known."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.face.stand_off import StandOff, grown_surface

from .shapes import chart_at, sphere, surface_of
from .test_clearance import groove

BALL_MM = 6.0


@pytest.mark.parametrize("distance", [5.0, 9.0])
def test_crease_of_a_grown_groove_is_an_arc_of_the_ball(distance: float) -> None:
    """A ball that touches both flanks of a right-angled groove is root 2 times its distance from the edge."""
    face = surface_of(chart_at(half=60), groove())
    grown, rounded = grown_surface(face, StandOff(distance), BALL_MM)
    points = grown.points[8:-8, 8:-8]
    x, y = np.abs(points[..., 0]), points[..., 1] + 60.0
    off_flank = -(y + x) / np.sqrt(2.0)
    middle = -(distance + BALL_MM) * np.sqrt(2.0)
    near = np.hypot(x, y) < 30.0
    arc = near & (x < BALL_MM / np.sqrt(2.0) - 0.5)
    straight = near & (x > BALL_MM / np.sqrt(2.0) + 0.5)
    # Pixels of 1.5 mm stand up to 2.6 mm apart on flanks met at 45 degrees; balls between them dip by half of
    # s^2 / (8 c), and chords of the eroding ball by as much again.
    slack = 2.6**2 / (8 * BALL_MM) + 0.15
    assert np.abs(np.hypot(x, y - middle)[arc] - BALL_MM).max() < slack
    assert np.abs(off_flank - distance)[straight].max() < slack
    # In the middle the ball's bottom lies above the crossing of the two grown flanks by (root 2 - 1) radii.
    lifted = rounded.rounding_at(face.chart, np.zeros(2))
    assert lifted == pytest.approx((np.sqrt(2.0) - 1.0) * BALL_MM, abs=slack)


def test_sphere_grows_by_the_distance_and_by_what_is_shaped() -> None:
    face = sphere(75.0, half=60)
    shaped = np.full(face.radii.shape, 0.4)
    grown, rounded = grown_surface(face, StandOff(7.0, shaped), BALL_MM)
    inner = grown.radii[10:-10, 10:-10]
    assert np.abs(inner - 82.4).max() < 1.5**2 / (8 * BALL_MM)  # half of the dip, twice
    assert rounded.rounding_at(face.chart, np.zeros(2)) == 0.0


def test_surface_that_follows_a_crease_comes_nearer_round_it_and_nowhere_else() -> None:
    """A ball of 7 mm leaves 2.9 mm of a right angle; at most a tenth of the distance is taken off for it."""
    face, distance = surface_of(chart_at(half=60), groove()), 7.0
    everywhere = np.ones(face.radii.shape, dtype=bool)
    grown, rounded = grown_surface(face, StandOff(distance), 0.5, everywhere)
    even, plain = grown_surface(face, StandOff(distance), 0.5)
    middle = grown.radii.shape[0] // 2
    off_flank = [
        -(surface.points[middle, :, 1] + 60.0 + np.abs(surface.points[middle, :, 0])) / np.sqrt(2.0)
        for surface in (grown, even)
    ]
    taken, off = off_flank[1] - off_flank[0], np.abs(even.points[middle, :, 0])
    # Flanks a whole distance away hold it up over a right angle: so far out it has faded to a third.
    assert 0.03 * distance < taken[middle] <= 0.1 * distance
    assert (np.diff(taken[middle : middle + 4]) < 0.0).all()
    assert taken.min() > -1e-3 and taken[off > 2.0 * distance].max() < 0.02
    # Along the ray in the middle both flanks come nearer by root 2 times what is taken off.
    told = rounded.rounding_at(face.chart, np.zeros(2)) - plain.rounding_at(face.chart, np.zeros(2))
    assert told == pytest.approx(-np.sqrt(2.0) * taken[middle], abs=0.1)  # no rounding counts under 0.1 mm


def test_no_crease_no_change() -> None:
    """A ball of 7 mm rolls over a sphere everywhere; nor is a crease followed that is not asked for."""
    for face, asked in ((sphere(75.0, half=60), True), (surface_of(chart_at(half=60), groove()), False)):
        skin = np.full(face.radii.shape, asked)
        assert np.array_equal(
            grown_surface(face, StandOff(7.0), BALL_MM, skin)[0].radii,
            grown_surface(face, StandOff(7.0), BALL_MM)[0].radii,
        )

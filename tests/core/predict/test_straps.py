"""Straps: tangents on a ball by trigonometry, clear of the cheek, mirror images, shares of the pull."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.face.denoise import Smoothed
from sealwright.face.surface import FaceSurface, face_chart
from sealwright.hardware.allowance import allowance_of
from sealwright.hardware.lugs import bar_middle, make_lug
from sealwright.physics.prediction_settings import StrapAssumptions
from sealwright.predict.straps import strap_pulls, taut_direction

from .wearers import invented, sketched


def ball(radius: float) -> FaceSurface:
    chart = face_chart()
    radii = np.full((chart.side, chart.side), radius)
    known = np.ones_like(radii, dtype=bool)
    return FaceSurface(chart, radii, known, ~known, 0.0, Smoothed(radii, np.zeros_like(radii), 0.0))


def test_taut_string_leaves_along_the_tangent_of_a_ball():
    # A tangent from a point at distance d from the middle of a ball of radius r makes asin(r / d) with the
    # way to the middle. The touching point is taken from samples 2 mm apart: under one degree.
    face = ball(70.0)
    start = face.chart.centre + np.array([0.0, -90.0, 0.0])
    target = face.chart.centre + np.array([60.0, 30.0, 0.0])
    way = taut_direction(face, start, target)
    angle = np.degrees(np.arccos(way @ [0.0, 1.0, 0.0]))
    assert angle == pytest.approx(np.degrees(np.arcsin(70.0 / 90.0)), abs=1.0)
    assert abs(way[2]) < 0.01 and way[0] > 0.0


def test_string_with_a_free_way_runs_straight():
    face = ball(70.0)
    start = face.chart.centre + np.array([0.0, -90.0, 0.0])
    target = face.chart.centre + np.array([200.0, -60.0, 0.0])
    straight = (target - start) / np.linalg.norm(target - start)
    assert np.allclose(taut_direction(face, start, target), straight)


def test_straps_clear_the_cheek_and_mirror_each_other():
    face = invented().face
    pulls = strap_pulls(sketched())
    for pull in pulls:
        way = pull.point + np.arange(6.0, 60.0, 2.0)[:, None] * pull.direction
        seen = face.is_known(face.chart.place_of(way)[0])
        # The tangent is laid by one linear step; what it still cuts is skin that a strap presses flat.
        assert face.height_of(way)[seen].min() > -1.5
        assert pull.direction[1] > 0.4
    for left, right in zip(pulls[::2], pulls[1::2], strict=True):
        # The head is symmetric; lugs sit on stations, which mirror within one station's rounding.
        assert np.allclose(left.direction, right.direction * [-1, 1, 1], atol=0.03)
    assert pulls[0].direction[2] > pulls[2].direction[2] + 0.1


def test_straps_pull_at_the_bars():
    # The strap presses on the bar, which stands off the wall: the bar is the part of the lug farthest along
    # the pull, and the place lies in the middle of its thickness.
    lug = sketched().recipe.straps.lug
    solid = make_lug(lug, allowance_of(sketched().recipe.allowance)).solid.mesh.vertices
    allowance = allowance_of(sketched().recipe.allowance)
    middle = bar_middle(lug, allowance)
    assert solid[:, 1].max() - middle[1] == pytest.approx(lug.bar_mm / 2, abs=0.05)
    near = solid[np.abs(solid[:, 1] - middle[1]) < 0.5 * lug.bar_mm]
    # the bar is 0.9 times as wide as it is high
    assert near[:, 2].max() - middle[2] == pytest.approx(0.45 * lug.bar_mm, abs=0.05)
    for pull, point in zip(strap_pulls(sketched()), sketched().straps, strict=True):
        local = (pull.point - point.frame[:3, 3]) @ point.frame[:3, :3]
        assert np.allclose(local, bar_middle(lug, allowance, point.wall))


def pulled(tension_n):
    """The sketch with another pull of one strap end."""
    recipe = sketched().recipe
    return replace(sketched(), recipe=replace(recipe, straps=replace(recipe.straps, tension_n=tension_n)))


def test_pull_is_the_recipes_and_may_be_shared_unevenly():
    assert {p.tension_n for p in strap_pulls(sketched())} == {4.0}
    uneven = strap_pulls(pulled(5.0), StrapAssumptions(upper_share=0.3))
    assert [p.tension_n for p in uneven] == pytest.approx([3.0, 3.0, 7.0, 7.0])


def test_no_lugs_and_too_much_pull_are_refused():
    with pytest.raises(DoesNotFit, match="lug"):
        strap_pulls(replace(sketched(), straps=()))
    with pytest.raises(BadRecipe, match="0 to 100 N"):
        strap_pulls(pulled(500.0))

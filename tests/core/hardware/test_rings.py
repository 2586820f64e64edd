"""O-rings and glands against handbook formulas and the size chart; tags as in the rings table."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.options import PortSettings
from sealwright.hardware.ports import make_port
from sealwright.hardware.rings import (
    LAND_MM,
    FaceGland,
    face_gland,
    gland_fill,
    judge_gland,
    lands,
    o_ring_of,
    o_ring_sizes,
    propose_ring,
    ring_squeeze,
    ring_stretch,
    stretched_section_mm,
)

from .gauges import ALLOWANCE


@pytest.mark.parametrize(
    ("size", "inside", "section"),
    [  # V: seen on a secondary chart
        ("-030", 41.00, 1.78),
        ("-040", 72.75, 1.78),
        ("-120", 25.07, 2.62),
        ("-222", 37.69, 3.53),
        ("-226", 50.39, 3.53),
        ("-230", 63.09, 3.53),
    ],
)
def test_verified_sizes(size: str, inside: float, section: float) -> None:
    ring = o_ring_of(size)
    assert (ring.inside_mm, ring.section_mm, ring.confidence) == (inside, section, "V")


def test_only_the_chart_s_six_sizes_are_called_verified() -> None:
    assert {r.size for r in o_ring_sizes() if r.confidence == "V"} == {
        "-030",
        "-040",
        "-120",
        "-222",
        "-226",
        "-230",
    }


@pytest.mark.parametrize(("first", "last", "step"), [(28, 40, 3.175), (222, 230, 3.175), (120, 140, 1.5875)])
def test_series_steps(first: int, last: int, step: float) -> None:
    # Inside diameters rise by 0.125 or 0.0625 in (C); sizes are rounded to 0.001 in and 0.01 mm: 0.03 mm
    inside = [r.inside_mm for r in o_ring_sizes() if first <= -int(r.size) <= last]
    assert len(inside) == last - first + 1
    assert [b - a for a, b in itertools.pairwise(inside)] == pytest.approx([step] * (last - first), abs=0.03)


def test_squeeze_fill_and_stretch() -> None:
    # handbook formulas from memory, numbers computed
    assert 100 * ring_squeeze(3.53, 2.64) == pytest.approx(25.2, abs=0.1)
    assert 100 * gland_fill(3.53, 2.642, 4.089) == pytest.approx(90.6, abs=0.2)
    assert 100 * gland_fill(3.53, 2.642, 4.623) == pytest.approx(80.1, abs=0.2)
    assert 100 * gland_fill(1.78, 1.321, 2.642) == pytest.approx(71.3, abs=0.2)
    assert 100 * ring_stretch(41.8, o_ring_of("-030").inside_mm) == pytest.approx(1.95, abs=0.02)


def test_stretched_ring() -> None:
    # -224 at 2 % stretch: gland 44.92 mm inside, section 3.495 (computed, volume kept)
    assert o_ring_of("-224").inside_mm * 1.02 == pytest.approx(44.92, abs=0.01)
    assert stretched_section_mm(3.53, 0.02) == pytest.approx(3.495, abs=0.002)
    assert o_ring_of("-222").outside_mm == pytest.approx(44.75, abs=0.01)


@pytest.mark.parametrize("size", ["-029", "-127", "-223", "-326"])
def test_printed_gland_keeps_the_limits(size: str) -> None:
    # squeeze 20 to 30 % (V), stretch under 3 % (V), fill under 90 % (V)
    gland = face_gland(o_ring_of(size))
    assert judge_gland(gland) == ()
    assert 0.20 <= gland.squeeze <= 0.30
    assert gland.stretch == pytest.approx(0.01)
    assert gland.fill < 0.90


def test_coating_moves_both_walls_back() -> None:
    bare, coated = face_gland(o_ring_of("-127")), face_gland(o_ring_of("-127"), coating_mm=0.1)
    assert bare.inside_mm - coated.inside_mm == pytest.approx(0.2)
    assert coated.outside_mm - bare.outside_mm == pytest.approx(0.2)
    assert coated.depth_mm == bare.depth_mm


def test_depth_lies_on_a_layer_where_the_range_has_one() -> None:
    assert face_gland(o_ring_of("-127")).depth_mm == pytest.approx(2.0)  # 1.88 to 2.03
    assert face_gland(o_ring_of("-223")).depth_mm == pytest.approx(2.6)  # 2.57 to 2.72
    assert face_gland(o_ring_of("-029")).depth_mm == pytest.approx(
        1.32
    )  # 1.27 to 1.37 holds no fifth of a mm


def test_bad_glands_are_judged() -> None:
    loose = FaceGland(o_ring_of("-127"), 36.0, 3.5, 2.0)
    deep = FaceGland(o_ring_of("-127"), 36.5, 3.5, 2.4)
    full = FaceGland(o_ring_of("-127"), 36.5, 2.7, 2.0)
    for gland, wrong in ((loose, ["stretch"]), (deep, ["squeeze", "fill"]), (full, ["fill"])):
        assert [remark.text.split("% ")[1].split(";")[0] for remark in judge_gland(gland)] == wrong


def test_proposed_ring_has_lands_and_the_largest_section() -> None:
    gland = propose_ring(17.0, 23.8)
    assert min(lands(gland, 17.0, 23.8)) >= LAND_MM
    thicker = [r for r in o_ring_sizes() if r.section_mm > gland.ring.section_mm]
    assert all(min(lands(face_gland(r), 17.0, 23.8)) < LAND_MM for r in thicker)


def test_no_ring_for_a_narrow_face() -> None:
    with pytest.raises(DoesNotFit) as caught:
        propose_ring(17.0, 20.0)
    assert caught.value.where.key == "port.ring"


def test_unknown_ring_is_refused() -> None:
    with pytest.raises(BadRecipe):
        o_ring_of("-999")


def test_ring_that_does_not_fit_is_refused_with_those_that_do() -> None:
    port = PortSettings(ring="-030")
    with pytest.raises(DoesNotFit) as caught:
        make_port(port, ALLOWANCE)
    named = re.findall(r"-\d{3}", caught.value.fix)
    assert named
    for size in named:
        make_port(replace(port, ring=size), ALLOWANCE)

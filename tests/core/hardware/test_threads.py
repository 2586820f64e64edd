"""Thread numbers against the tables and formulas of the standards; profiles against their own geometry.

Sources: textbook formulas of ISO 68-1 and ISO 2901 to 2904, numbers
computed from them (C), except where said.
"""

from __future__ import annotations

import math

import pytest
from sealwright.errors import BadRecipe
from sealwright.hardware.threads import (
    metric_thread,
    printed_thread,
    round_thread,
    thread_of,
    trapezoidal_clearance_mm,
    trapezoidal_thread,
)

from .gauges import arc_radius_mm


@pytest.mark.parametrize(
    ("major", "pitch", "d2", "d1", "d3", "h1"),
    [  # ISO 68-1 / 724 formulas from memory, numbers computed; 0.001 is their rounding
        (24, 3, 22.051, 20.752, 20.319, 1.624),
        (30, 2, 28.701, 27.835, 27.546, 1.083),
        (36, 3, 34.051, 32.752, 32.319, 1.624),
        (40, 1.5, 39.026, 38.376, 38.160, 0.812),
        (42, 2, 40.701, 39.835, 39.546, 1.083),
        (42, 3, 40.051, 38.752, 38.319, 1.624),
        (60, 4, 57.402, 55.670, 55.093, 2.165),
    ],
)
def test_metric_table(major: float, pitch: float, d2: float, d1: float, d3: float, h1: float) -> None:
    thread = metric_thread(major, pitch)
    found = (thread.pitch_diameter_mm, thread.female_crest_mm, thread.male_root_mm, thread.overlap_mm)
    assert found == pytest.approx((d2, d1, d3, h1), abs=0.001)


@pytest.mark.parametrize(
    ("major", "pitch", "ac", "d2", "d3", "d1", "d4", "crest", "lead"),
    [  # relations seen on secondary pages (V), ac values from memory except P = 2 (V); Tr 10x2 wholly V
        (8, 1.5, 0.15, 7.25, 6.20, 6.50, 8.30, 0.549, 3.77),
        (10, 2, 0.25, 9.00, 7.50, 8.00, 10.50, 0.732, 4.05),
        (36, 3, 0.25, 34.50, 32.50, 33.00, 36.50, 1.098, 1.59),
        (36, 6, 0.50, 33.00, 29.00, 30.00, 37.00, 2.196, 3.31),
        (40, 3, 0.25, 38.50, 36.50, 37.00, 40.50, 1.098, 1.42),
        (40, 7, 0.50, 36.50, 32.00, 33.00, 41.00, 2.562, 3.49),
        (44, 3, 0.25, 42.50, 40.50, 41.00, 44.50, 1.098, 1.29),
        (60, 3, 0.25, 58.50, 56.50, 57.00, 60.50, 1.098, 0.94),
    ],
)
def test_trapezoidal_table(
    major: float,
    pitch: float,
    ac: float,
    d2: float,
    d3: float,
    d1: float,
    d4: float,
    crest: float,
    lead: float,
) -> None:
    thread = trapezoidal_thread(major, pitch)
    diameters = (thread.pitch_diameter_mm, thread.male_root_mm, thread.female_crest_mm, thread.female_root_mm)
    assert trapezoidal_clearance_mm(pitch) == ac
    assert diameters == pytest.approx((d2, d3, d1, d4), abs=1e-9)
    assert thread.male.width_mm(0.5 * major) == pytest.approx(crest, abs=0.001)  # 0.366 P, V
    assert thread.lead_angle_deg == pytest.approx(lead, abs=0.01)


def test_trapezoidal_root_width() -> None:
    # 0.366 P - 2 ac tan 15 (C)
    thread = trapezoidal_thread(40, 3)
    space = 3 - thread.male.width_mm(0.5 * thread.male_root_mm)
    assert space == pytest.approx(0.36603 * 3 - 2 * 0.25 * math.tan(math.radians(15)), abs=1e-4)


def test_trapezoidal_pitch_outside_the_table_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        trapezoidal_thread(40, 1.75)
    assert caught.value.where.key == "port.pitch_mm"


def test_round_thread_relations() -> None:
    # DIN 405 relations from memory at d = 40, P = 25.4/7; numbers computed from them
    thread = round_thread(40, 7)
    assert thread.pitch_mm == pytest.approx(3.62857, abs=1e-5)
    assert thread.pitch_diameter_mm == pytest.approx(38.186, abs=0.001)
    assert thread.male_root_mm == pytest.approx(36.371, abs=0.001)
    assert thread.female_crest_mm == pytest.approx(36.734, abs=0.001)
    assert thread.female_root_mm - 40 == pytest.approx(0.363, abs=0.001)
    assert thread.female_crest_mm - thread.male_root_mm == pytest.approx(0.363, abs=0.001)
    assert thread.lead_angle_deg == pytest.approx(1.73, abs=0.01)
    assert "MEMORY" in thread.source


def test_round_thread_arcs_come_out_as_din_405_gives_them() -> None:
    # R1 = 0.23851 P, R2 = 0.25597 P, R3 = 0.22105 P (from memory): tangent arcs must give the same, which
    # ties the end diameters, the flank angle and the radii together.
    thread = round_thread(40, 7)
    pitch = thread.pitch_mm
    assert arc_radius_mm(thread.male, top=True) == pytest.approx(0.23851 * pitch, abs=0.0002)
    assert arc_radius_mm(thread.male, top=False) == pytest.approx(0.23851 * pitch, abs=0.0002)
    assert arc_radius_mm(thread.female, top=True) == pytest.approx(0.22105 * pitch, abs=0.0002)
    assert arc_radius_mm(thread.female, top=False) == pytest.approx(0.25597 * pitch, abs=0.0002)


def test_metric_root_arc_is_a_sixth_of_the_height() -> None:
    # ISO 68-1: R = H/6 = 0.14434 P (from memory)
    assert arc_radius_mm(metric_thread(42, 3).male, top=False) == pytest.approx(0.14434 * 3, abs=1e-4)


def test_printed_form() -> None:
    thread = printed_thread(50, 3)
    assert thread.overhang_deg == pytest.approx(45.0)
    assert thread.male.width_mm(25.0) == pytest.approx(0.5)  # a sixth of the pitch
    assert thread.overlap_mm == pytest.approx(1.0)
    assert 90.0 - trapezoidal_thread(50, 3).overhang_deg == pytest.approx(15.0)  # why the form exists


def test_overlap_with_print_gap() -> None:
    # Tr 40x3 with 0.3 mm radial gap keeps H1 - 0.3 = 1.2 mm, over half of H1 (C)
    thread = trapezoidal_thread(40, 3)
    left = thread.male.top_radius_mm - (thread.female.bottom_radius_mm + 0.3)
    assert left == pytest.approx(1.2, abs=1e-9)
    assert left > 0.5 * thread.overlap_mm


def test_unknown_form_is_refused() -> None:
    with pytest.raises(BadRecipe):
        thread_of("square", 40, 3)

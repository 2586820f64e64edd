"""ISO 5356-1 cones in their gauge planes: 22 mm from a restating source (V), 15 mm from memory (M)."""

from __future__ import annotations

import pytest
from sealwright.hardware.connectors import cone_diameter, cone_size
from sealwright.hardware.options import PortSettings
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import difference

from .gauges import ALLOWANCE, overhang_area, require_printable_solid, section_radii


def test_diameters_along_the_taper() -> None:
    # tip 21.995 (C), end of a 21 mm cone 22.52 (V), socket at 22 mm depth 21.82 (V)
    size = cone_size("22")
    assert cone_diameter(22.37, 1 / 40, 15) == pytest.approx(21.995, abs=0.001)
    assert size.cone_diameter_mm(0.0) == pytest.approx(21.995, abs=0.001)
    assert size.cone_diameter_mm(21.0) == pytest.approx(22.520, abs=0.001)
    assert size.socket_diameter_mm(22.0) == pytest.approx(21.820, abs=0.001)
    assert size.half_angle_deg == pytest.approx(0.7162, abs=0.0005)


def test_memory_is_not_called_verified() -> None:
    assert cone_size("15").confidence == "M"
    assert cone_size("22").confidence == "V"


@pytest.mark.parametrize(("name", "gauge", "from_tip"), [("22", 22.37, 15.0), ("15", 15.47, 10.0)])
def test_male_cone_as_a_solid(name: str, gauge: float, from_tip: float) -> None:
    parts = make_port(PortSettings(kind="cone", cone_size=name), ALLOWANCE)
    _, radius = section_radii(parts.boss, parts.length_mm - from_tip)
    assert 2 * radius == pytest.approx(gauge, abs=0.002)  # corners of the facets lie on the cone
    assert parts.facts.fit.cone_gauge_plane_z_mm == pytest.approx(parts.length_mm - from_tip)
    _, tip = section_radii(parts.boss, parts.length_mm - 1.0)
    assert 2 * tip == pytest.approx(gauge - (from_tip - 1.0) / 40, abs=0.002)


@pytest.mark.parametrize(("name", "gauge"), [("22", 22.37), ("15", 15.47)])
def test_socket_as_a_solid(name: str, gauge: float) -> None:
    parts = make_port(PortSettings(kind="cone", cone_size=name, cone_gender="female"), ALLOWANCE)
    socket = difference("socket", parts.boss, parts.bore)
    # The flat sides of the socket lie on the true cone: the smallest distance is the true radius.
    for depth in (1.0, 10.0):
        radius, _ = section_radii(socket, parts.length_mm - depth)
        assert 2 * radius == pytest.approx(gauge - depth / 40, abs=0.002)


def test_cone_seats_in_its_socket_at_the_gauge_plane() -> None:
    # The male's gauge plane meets the socket's mouth: 15 mm engaged, 6 mm of cone left (V).
    size = cone_size("22")
    assert size.cone_diameter_mm(15.0) == pytest.approx(size.socket_diameter_mm(0.0))
    assert size.cone_length_mm - 15.0 == pytest.approx(6.0)


@pytest.mark.parametrize("name", ["22", "15"])
@pytest.mark.parametrize("gender", ["male", "female"])
def test_cone_ports_print_downward(name: str, gender: str) -> None:
    parts = make_port(PortSettings(kind="cone", cone_size=name, cone_gender=gender), ALLOWANCE)
    body = difference("body", parts.boss, parts.bore)
    require_printable_solid(body)
    assert body.genus == 1
    assert overhang_area(body, (0.0, 0.0, -1.0)) == 0.0

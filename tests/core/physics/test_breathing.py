"""Breathing resistance against the worked numbers of docs/standards section 5 and the published limits."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.limits import resistance_limits
from sealwright.physics.breathing import (
    AirwaySettings,
    check_limits,
    dynamic_head_pa,
    exhalation,
    inhalation,
    medium_drop_pa,
    resistance_table,
)
from sealwright.physics.leak import Medium
from sealwright.tables import table

H13 = Medium(6004.0, 247.8, 5e-4)  # docs/standards 5.2: 320 Pa at 5.33 cm/s (C from M)


def test_units_of_pressure_in_the_table():
    # docs/standards 5 check 1: 35 mmH2O = 343.2 Pa, 25 = 245.2, each +- 0.1 (1 mmH2O = 9.80665 Pa, V29).
    by_name = {row.as_published: row.limit_pa for row in resistance_limits()}
    assert by_name["35 mmH2O at 85 L/min"] == pytest.approx(35 * 9.80665, abs=0.1)
    assert by_name["25 mmH2O at 85 L/min"] == pytest.approx(25 * 9.80665, abs=0.1)
    for row in resistance_limits():
        number, unit = row.as_published.split()[:2]
        factor = {"mbar": 100.0, "mmH2O": 9.80665}[unit]
        assert row.limit_pa == pytest.approx(float(number) * factor, abs=0.1)
        assert row.confidence in ("V", "M")


@pytest.mark.parametrize(
    ("k", "area", "flow", "drop"),
    [
        (6004, 100, 32, 320.2),  # definition of k: 320 Pa at 5.33 cm/s over 100 cm2
        (6004, 247.8, 85, 343.2),  # check 4
        (6004, 396.1, 95, 240.0),  # check 4
        (500, 100, 32, 26.7),  # V42: 500 to 2500 Pa s/m are 27 to 133 Pa at 5.33 cm/s
        (2500, 100, 32, 133.3),
    ],
)
def test_tabulated_media(k, area, flow, drop):
    assert medium_drop_pa(flow, Medium(k, area, 0.0)) == pytest.approx(drop, rel=2e-3)


@pytest.mark.parametrize(
    ("name", "velocity", "least", "most"),
    [  # Pa at the face velocity in cm/s, as the source of each row gives it
        ("meltblown", 5.33, 26.7, 133.3),  # V: 500 to 2500 Pa s/m, docs/standards 5.2
        ("respirator_layers", 5.33, 80.0, 133.3),  # V: its upper part, from 1500
        ("meltblown_light", 5.3, 20.0, 60.0),  # M
        ("glass_h13", 5.33, 250.0, 320.0),  # M
    ],
)
def test_media_of_the_table_drop_what_their_sources_say(name, velocity, least, most):
    row = table("media")["media"][name]["resistance_pa_s_m"]
    flow = velocity * 100.0 * 60.0 / 1000.0  # through 100 cm2: cm/s x cm2 x 60 s / 1000 = L/min
    low, middle, high = (medium_drop_pa(flow, Medium(row[k], 100.0, 0.0)) for k in ("low", "value", "high"))
    # 1 %: the table's numbers are rounded
    assert low == pytest.approx(least, rel=0.01)
    assert high == pytest.approx(most, rel=0.01)
    assert low <= middle <= high


def test_dynamic_head():
    # Check 8: bore 22: 85 L/min -> 8.3 Pa; 160 -> 29.5 Pa; bore 14 at 160 -> 180 Pa, each +- 1 %.
    assert dynamic_head_pa(85, 22) == pytest.approx(8.3, rel=0.01)
    assert dynamic_head_pa(160, 22) == pytest.approx(29.5, rel=0.01)
    assert dynamic_head_pa(160, 14) == pytest.approx(180, rel=0.01)


def test_breathing_in_is_the_sum_of_medium_and_ports():
    airway = AirwaySettings(port_bore_mm=22.0, port_loss=1.0)
    found = inhalation(85, H13, airway)
    assert found.medium_pa == pytest.approx(343.2, rel=1e-3)
    assert found.port_pa == pytest.approx(8.3, rel=0.01)
    assert found.total_pa == pytest.approx(found.medium_pa + found.port_pa)
    two = inhalation(85, H13, AirwaySettings(port_bore_mm=22.0, port_loss=1.0, port_count=2))
    assert two.port_pa == pytest.approx(found.port_pa / 4, rel=1e-12)


def test_breathing_out_splits_between_valve_and_medium():
    airway = AirwaySettings(valve_bore_mm=25.0, valve_open_share=1.0, valve_loss=1.0, valve_opens_pa=10.0)
    found = exhalation(160, H13, airway)
    assert found.valve_pa == pytest.approx(found.total_pa, rel=1e-9)
    assert found.medium_pa + found.port_pa == pytest.approx(found.total_pa, rel=1e-9)
    # Both paths together carry the breath: valve flow from its own law, the rest through the medium.
    speed = (2 * (found.total_pa - 10.0) / 1.2) ** 0.5
    valve = speed * 3.141592653589793 / 4 * 0.025**2 * 60000
    assert valve + found.medium_pa / medium_drop_pa(1.0, H13) == pytest.approx(160, rel=1e-6)
    assert found.total_pa < exhalation(160, H13).total_pa


def test_a_valve_that_never_lifts_changes_nothing():
    stiff = AirwaySettings(valve_bore_mm=25.0, valve_opens_pa=200.0)
    light = Medium(500.0, 300.0, 0.01)
    assert exhalation(30, light, stiff).valve_pa == 0.0
    assert exhalation(30, light, stiff).total_pa == inhalation(30, light, stiff).total_pa


def test_table_rises_with_flow_and_has_all_flows():
    rows = resistance_table(H13)
    assert [(r.phase, r.flow_l_min) for r in rows[:4]] == [("inhalation", f) for f in (30, 85, 95, 160)]
    assert [r.total_pa for r in rows[:4]] == sorted(r.total_pa for r in rows[:4])
    assert len(rows) == 8


def test_limits_are_held_at_their_own_flow_and_scope():
    checks = {c.limit.name: c for c in check_limits(H13, AirwaySettings(port_loss=0.0))}
    edge = checks["particle mask, breathing in (42 CFR 84.172)"]
    assert edge.value_pa == pytest.approx(343.2, abs=0.2)
    assert edge.use == pytest.approx(1.0, abs=1e-3)
    assert checks["half mask body (EN 140), hard breath"].value_pa == 0.0
    assert checks["half mask body (EN 140), hard breath"].passed
    assert not checks["filtering half mask (EN 149), breathing out"].passed  # 646 Pa through the medium alone
    wide = {
        c.limit.name: c.passed
        for c in check_limits(Medium(6004.0, 600.0, 5e-4), AirwaySettings(valve_bore_mm=30))
    }
    assert all(wide.values())


def test_ease_level_is_the_published_one():
    assert table("limits")["ease"]["pressure_pa"] == 88.2  # V43


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: inhalation(-1, H13), "L/min"),
        (lambda: inhalation(1000, H13), "from 0 to 600 L/min"),
        (lambda: inhalation(85, Medium(-5, 100, 0)), "Pa s/m"),
        (lambda: inhalation(85, H13, AirwaySettings(port_bore_mm=1.0)), "80.0 mm"),
        (lambda: dynamic_head_pa(85, 0), "mm"),
    ],
)
def test_wrong_values_are_refused_with_range_and_unit(call, text):
    with pytest.raises(BadRecipe, match=text):
        call()

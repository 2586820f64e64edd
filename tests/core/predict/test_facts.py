"""The list of numbers: units in the keys, ranges in order, no single proud fit factor, plain JSON."""

from __future__ import annotations

import json

from sealwright.predict.facts import facts, values

from .wearers import predicted

UNITS = {"kpa": "kPa", "n": "N", "mm": "mm", "ml": "ml", "pa": "Pa", "deg": "deg", "h": "h", "cm2": "cm2"}


def test_keys_carry_their_unit_and_are_unique():
    rows = values(predicted())
    assert len({row.key for row in rows}) == len(rows)
    for row in rows:
        last = row.key.rsplit("_", 1)[-1]
        expected = UNITS.get(last, "%" if last == "percent" else "1")
        assert row.unit == expected, row.key


def test_ranges_are_in_order_and_every_number_has_a_source():
    for row in values(predicted()):
        assert row.source and row.confidence in ("V", "M", "C")
        if row.low is not None and row.high is not None:
            assert row.low <= row.high, row.key


def test_fit_factor_is_a_range_only():
    row = facts(predicted())["fit_factor"]
    assert row["value"] is None
    assert row["low"] < row["high"]
    assert "real fit test" in row["limit"]


def test_numbers_are_those_of_the_parts_and_plain_json():
    found = predicted()
    plain = json.loads(json.dumps(facts(found), allow_nan=False))
    assert plain["contact_peak_kpa"]["value"] == found.contact.peak_kpa
    assert plain["tension_at_capillary_n"]["value"] == found.at_capillary.total_n
    assert plain["inhalation_at_85_l_min_pa"]["value"] == found.resistance[1].total_pa
    # 42 CFR 84.172: 35 mmH2O = 343.2 Pa at 85 L/min (standards.md section 5.1, V29).
    assert "343.2 Pa" in plain["inhalation_at_85_l_min_pa"]["limit"]

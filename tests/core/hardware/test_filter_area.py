"""Area to velocity to pressure drop: computed check values; limits as in the media table."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.hardware.filter_area import (
    area_for_drop_mm2,
    face_velocity_cm_s,
    judge_filter,
    pressure_drop_pa,
)
from sealwright.limits import inhalation_limits
from sealwright.tables import table

CM2 = 100.0


def test_face_velocity() -> None:
    # 85 L/min through 100 cm2 = 14.17 cm/s, 32 L/min = 5.333 cm/s (C)
    assert face_velocity_cm_s(85, 100 * CM2) == pytest.approx(14.17, abs=0.005)
    assert face_velocity_cm_s(32, 100 * CM2) == pytest.approx(5.333, abs=0.001)
    # area for 5.3 cm/s: 267.3 cm2 at 85 L/min, 298.7 at 95 (C)
    assert face_velocity_cm_s(85, 267.3 * CM2) == pytest.approx(5.3, abs=0.004)
    assert face_velocity_cm_s(95, 298.7 * CM2) == pytest.approx(5.3, abs=0.004)


def test_glass_medium_resistance() -> None:
    # k = 6004 Pa s/m is 320 Pa at 5.33 cm/s (C from a figure from memory)
    assert pressure_drop_pa(6004, 5.33) == pytest.approx(320, abs=0.1)
    assert table("media")["media"]["glass_h13"]["resistance_pa_s_m"]["value"] == 6004


def test_area_for_a_drop() -> None:
    # 343.2 Pa at 85 L/min: 247.8 cm2; 240 Pa at 95 L/min: 396.1 (C)
    assert area_for_drop_mm2(6004, 85, 343.2) / CM2 == pytest.approx(247.8, abs=0.5)
    assert area_for_drop_mm2(6004, 95, 240.0) / CM2 == pytest.approx(396.1, abs=0.5)


def test_small_glass_filter_is_warned_with_the_area_that_would_do() -> None:
    judged = judge_filter("glass_h13", 100 * CM2)
    warnings = [r for r in judged.remarks if r.level == "warning"]
    assert len(warnings) == 3
    assert "248 cm2" in warnings[0].text
    drops = {at.flow_l_min: at.drop_pa for at in judged.facts.at_flows}
    assert drops[85] == pytest.approx(6004 * 0.14167, rel=1e-3)


def test_large_filter_is_not_warned() -> None:
    assert judge_filter("glass_h13", 600 * CM2).remarks == ()


def test_limits_are_the_published_ones() -> None:
    # 42 CFR 84.172: 35 mmH2O = 343.2 Pa at 85 L/min (V); EN 149: 1.0 mbar at 30, 3.0 at 95 L/min (V).
    # The same rows judge the whole design: medium and breathing are never held against two tables.
    limits = {(row.flow_l_min, row.limit_pa) for row in inhalation_limits()}
    assert limits == {(85.0, 343.2), (95.0, 300.0), (30.0, 100.0)}
    assert all(row.confidence == "V" for row in inhalation_limits())
    assert "limits" not in table("media")
    assert pytest.approx(343.2, abs=0.1) == 35 * 9.80665


def test_unknown_medium_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        judge_filter("cheesecloth", 100 * CM2)
    assert caught.value.where.key == "holder.medium"


def test_every_medium_has_source_and_confidence() -> None:
    for row in table("media")["media"].values():
        assert row["resistance_pa_s_m"]["source"]
        assert row["resistance_pa_s_m"]["confidence"] in {"V", "M", "C"}

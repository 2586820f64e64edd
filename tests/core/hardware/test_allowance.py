"""Allowances: clearance, coating and shrinkage kept apart."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.hardware.allowance import (
    Allowance,
    AllowanceSettings,
    Shrinkage,
    allowance_of,
    material_row,
    shrinkage_of,
)
from sealwright.printing.allowances import allowances_of
from sealwright.report.sections.hardware import flat_keys
from sealwright.tables import table


@pytest.mark.parametrize(("percent", "scale"), [(0.8, 1.00806), (1.5, 1.01523)])
def test_scale_for_shrinkage(percent: float, scale: float) -> None:
    # 1 / (1 - s), computed
    made = shrinkage_of(AllowanceSettings(shrink_z_percent=percent)).print_scale
    assert made[2] == pytest.approx(scale, abs=1e-5)
    assert made[:2] == shrinkage_of(AllowanceSettings()).print_scale[:2]


def test_the_three_do_not_mix() -> None:
    made = Allowance(clearance_mm=0.4, coating_mm=0.1, shrinkage=Shrinkage((1.0, 1.0, 1.0)))
    assert made.gap_mm == pytest.approx(0.2)
    assert made.male_offset_mm == pytest.approx(-0.1)
    assert made.female_offset_mm == pytest.approx(0.3)
    assert made.female_offset_mm + made.male_offset_mm == pytest.approx(made.gap_mm)


def test_table_value_is_taken_unless_measured() -> None:
    # FDM practice for PETG 0.2 to 0.4 % (from memory)
    assert all(0.2 <= percent <= 0.4 for percent in allowance_of(AllowanceSettings()).shrinkage.percent)
    own = AllowanceSettings(shrink_x_percent=0.0, shrink_y_percent=1.0, shrink_z_percent=2.0)
    assert allowance_of(own).shrinkage.percent == (0.0, 1.0, 2.0)
    # What the report says under hardware is what the print copy gets (they used to differ).
    said = flat_keys(allowance_of(own))
    assert said["shrinkage_percent"] == list(allowances_of("petg", own).shrink_percent)
    assert said["print_scale"] == list(allowances_of("petg", own).scale)


def test_a_coating_is_counted_once() -> None:
    mating = AllowanceSettings(coating_mm=0.1)
    assert allowance_of(mating).coating_mm == 0.1
    assert allowances_of("petg", mating).coating_mm == 0.0
    everywhere = AllowanceSettings(coating_mm=0.1, coating_room="everywhere")
    assert allowance_of(everywhere).coating_mm == 0.0
    assert allowances_of("petg", everywhere).coating_mm == 0.1


def test_unknown_material_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        material_row("unobtainium")
    assert caught.value.where.key == "allowance.material"


@pytest.mark.parametrize(
    ("key", "density"),  # several public source tables (V), PP and PA12 from memory
    [("pla", 1.24), ("petg", 1.27), ("abs", 1.04), ("asa", 1.07), ("pc", 1.20), ("pa6", 1.14), ("pp", 0.90)],
)
def test_densities(key: str, density: float) -> None:
    assert material_row(key)["density_g_cm3"]["value"] == density


def test_mass_examples() -> None:
    # 60 cm3 PETG = 76.2 g, 60 cm3 PP = 54.0 g (computed)
    assert 60 * material_row("petg")["density_g_cm3"]["value"] == pytest.approx(76.2)
    assert 60 * material_row("pp")["density_g_cm3"]["value"] == pytest.approx(54.0)


def test_every_material_number_carries_source_and_confidence() -> None:
    for row in table("materials")["materials"].values():
        for value in row.values():
            if isinstance(value, dict):
                assert value["source"]
                assert value["confidence"] in {"V", "M", "C"}
        assert row["skin_note"]

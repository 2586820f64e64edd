"""Allowances: clearance, coating and shrinkage kept apart."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.hardware.allowance import Allowance, AllowanceSettings, allowance_of, material_row
from sealwright.tables import table


@pytest.mark.parametrize(("percent", "scale"), [(0.8, 1.00806), (1.5, 1.01523)])
def test_scale_for_shrinkage(percent: float, scale: float) -> None:
    # 1 / (1 - s), computed
    made = allowance_of(AllowanceSettings(shrinkage_percent=percent))
    assert made.print_scale == pytest.approx(scale, abs=1e-5)


def test_the_three_do_not_mix() -> None:
    made = Allowance(clearance_mm=0.4, coating_mm=0.1, shrink_share=0.01)
    assert made.gap_mm == pytest.approx(0.2)
    assert made.male_offset_mm == pytest.approx(-0.1)
    assert made.female_offset_mm == pytest.approx(0.3)
    assert made.female_offset_mm + made.male_offset_mm == pytest.approx(made.gap_mm)


def test_table_value_is_taken_unless_measured() -> None:
    # FDM practice for PETG 0.2 to 0.4 % (from memory)
    assert 0.2 <= 100 * allowance_of(AllowanceSettings()).shrink_share <= 0.4
    assert allowance_of(AllowanceSettings(shrinkage_percent=0.0)).print_scale == 1.0


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

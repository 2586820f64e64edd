"""Filter, holes and dead space of a design by hand calculation."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest
from bare import bare_recipe
from sealwright.designing.filter_air import filter_of
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.physics.prediction_settings import FilterAssumptions
from sealwright.predict.air import airway_of, dead_space_of, medium_source

from .wearers import finished, sketched


def test_filter_is_the_seat_inside_the_land():
    # Disc of 122 mm with a pressed land of 4 mm: pi/4 (114 mm)^2 = 102.07 cm2.
    middle, least, most = filter_of(bare_recipe())
    assert middle.area_cm2 == pytest.approx(pi / 4 * 11.4**2)
    assert middle.area_cm2 == pytest.approx(finished().holder.facts.medium.area_cm2)
    assert least.resistance_pa_s_m < middle.resistance_pa_s_m < most.resistance_pa_s_m


def test_the_medium_is_the_holders_and_an_unknown_one_is_refused():
    other = replace(bare_recipe(), holder=replace(bare_recipe().holder, medium="glass_h13"))
    # k = 6004 Pa s/m: docs/standards check value 5.4.
    assert filter_of(other)[0].resistance_pa_s_m == 6004
    assert filter_of(other, FilterAssumptions(penetration=5e-4))[0].penetration == 5e-4
    assert medium_source(other)[0] == "M"
    with pytest.raises(BadRecipe, match="no filter medium"):
        filter_of(replace(bare_recipe(), holder=replace(bare_recipe().holder, medium="cheesecloth")))


def test_holder_is_the_narrowest_place():
    passage = finished().holder.facts.sizes.air_passage_mm2
    bore = airway_of(finished()).port_bore_mm
    assert pi / 4 * bore**2 == pytest.approx(passage)
    assert airway_of(sketched()).port_bore_mm == sketched().ports[0].parts.facts.bore_diameter_mm


def test_dead_space_by_hand():
    # Seat 102.07 cm2 times grid 1 mm and channels 1.5 mm, and a cone 3.4 mm high over it: 37.09 ml.
    dead = dead_space_of(sketched())
    assert dead.holder_ml == pytest.approx(37.09, abs=0.05)
    bore = sketched().ports[0].parts.facts.bore_diameter_mm
    assert dead.port_ml == pytest.approx(pi / 4 * bore**2 * 12.74 / 1000.0, abs=0.05)  # 34 mm by 12.74 mm
    assert dead.total_ml == pytest.approx(dead.chamber_ml + dead.holder_ml + dead.port_ml, abs=0.01)


def test_no_port_is_refused():
    with pytest.raises(DoesNotFit, match="port"):
        airway_of(replace(sketched(), ports=()))

"""Aims of a design: the numbers are those of the report, and what is missed names what stands in the way."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sealwright.predict.targets as targets_module
import sealwright.verdicts.aims as aims_module
from sealwright.limits import Limit, limit
from sealwright.report.fit_report import fit_report
from sealwright.report.page.text import at
from sealwright.verdicts.aims import aims_of

from .samples import design, examined, report

pytestmark = [pytest.mark.heavy, pytest.mark.both]

LIMITS = {
    "prediction.summary.pressure_p95_kpa": ("pull_pressure", False),
    "prediction.summary.share_reaching_100": ("fit_factor_share", True),
    "prediction.summary.share_holding": ("hold_share", True),
    "masses.total_g": ("printed_mass", False),
    "hang.moment_nose_bridge_nmm": ("nose_bridge_moment", False),
    "breathing.dead_space_ml": ("dead_space", False),
}


def test_every_aim_is_a_number_of_the_report_beside_its_limit():
    told = report()
    rows = {row["key"]: row for row in told["aims"]["rows"]}
    assert list(rows) == [*LIMITS, "breathing.limits"]
    for key, (row, at_least) in LIMITS.items():
        value, bound = at(told, key), limit(row).value
        assert rows[key]["value"] == value and rows[key]["limit"] == bound
        assert rows[key]["kept"] == (value >= bound if at_least else value <= bound)
    worst = max(told["breathing"]["limits"], key=lambda one: one["value_pa"] / one["limit_pa"])
    assert rows["breathing.limits"]["value"] == worst["value_pa"]
    assert rows["breathing.limits"]["limit"] == worst["limit_pa"]


def test_what_is_missed_names_what_stands_in_the_way_and_what_is_kept_names_nothing():
    for row in report()["aims"]["rows"]:
        assert bool(row["against"]) != row["kept"]
    # A bare band on few draws surely misses the hold: the sentence says at which pull the most cases hold.
    hold = next(r for r in report()["aims"]["rows"] if r["key"].endswith("share_holding"))
    least = report()["prediction"]["tension"]["least_to_hold"]
    assert not hold["kept"] and f"{least['at_total_n']:.0f}" in hold["against"]


def test_too_heavy_a_mask_names_its_heaviest_part(monkeypatch):
    whole = aims_module.limit

    def light(key: str) -> Limit:
        return replace(whole(key), value=10.0) if key == "printed_mass" else whole(key)

    for module in (aims_module, targets_module):  # an aim is a target of the one, its words are the other's
        monkeypatch.setattr(module, "limit", light)
    mass = next(aim for aim in aims_of(design(), examined()) if aim.key == "masses.total_g")
    parts = report()["masses"]["parts"]
    name = max(parts, key=lambda one: parts[one]["mass_g"])
    assert not mass.kept and mass.limit == 10.0
    assert f"{name} is {parts[name]['mass_g']:.0f} g" in mass.against


def test_a_design_that_was_not_worn_has_the_other_aims():
    plain = fit_report(design(), replace(examined(), prediction=None, second_pose=None, tried=None))
    keys = [row["key"] for row in plain["aims"]["rows"]]
    assert keys == [*list(LIMITS)[3:], "breathing.limits"]

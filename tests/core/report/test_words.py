"""The report in plain words: landmarks, ways up, material changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import html as lxml_html
from sealwright.hardware.soft_ring import MaterialChange
from sealwright.printing.in_place import InPlaceRing
from sealwright.report.page.html import html_report
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measure import measured_of
from sealwright.verdicts.words import side_on_bed

from . import samples


def test_unsure_landmarks_are_named_by_what_one_sees():
    measured = measured_of(samples.design())
    doubted = replace(measured, landmarks={**measured.landmarks, "alare_left": 0.3})
    (verdict,) = [v for v in judge(doubted) if v.key == "landmarks"]
    assert "left nostril wing (alare_left)" in verdict.reason


@pytest.mark.parametrize(
    ("up", "words"),
    [
        ([0.0, 0.97, 0.26], "front down"),
        ([0, 0, 1.0], "bottom down"),
        ([-1.0, 0, 0], "wearer's left side down"),
    ],
)
def test_way_up_in_words(up, words):
    assert side_on_bed(up) == words


def test_soft_ring_s_layers_are_on_the_page():
    """The numbers of test_in_place, as the report holds them."""
    report = samples.report()
    changes = [(1, 0.0, "soft"), (5, 0.8, "both"), (17, 3.2, "rigid")]
    ring = InPlaceRing(
        "soft-ring", "body", "tpu85a", "petg", tuple(MaterialChange(*c) for c in changes), 466, 0.2, 0.2, True
    )
    plan = {"material": "petg", "up": [0, 1, 0], "size_mm": [1, 2, 3], "support_free": True, "touch_up": []}
    plan |= dict.fromkeys(("layers", "layer_mm", "mass_g", "time_min", "longest_bridge_mm"), 1)
    plan |= {"thinnest_wall_mm": 1.2, "assumptions": []}
    sums = dict.fromkeys(("total_mass_g", "total_time_min", "total_cost_money"), 1.0)
    report["printing"] = {"parts": {"body": plan}, "material_changes": [ring.as_dict()], **sums}
    found = lxml_html.fromstring(html_report(report)).get_element_by_id("printing").text_content()
    assert "One print of 466 layers" in found
    assert "TPU, Shore 85 A and PETG in each layer" in found
    assert "3.20 mm" in found and "17" in found

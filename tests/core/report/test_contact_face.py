"""Steps of the contact face in report, page and maps, from one measurement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.jobs.print_job import plan_part
from sealwright.limits import limit
from sealwright.report.fit_report import fit_report
from sealwright.report.keys import glossary_entry
from sealwright.report.model3d import model_of
from sealwright.report.page.contact_face import contact_face_block

from . import samples

pytestmark = pytest.mark.heavy


def test_report_page_and_map_tell_the_same_steps() -> None:
    design = samples.design()
    examined = replace(samples.examined(), plans={"body": plan_part(design, "body")})
    report = fit_report(design, examined)
    section = report["contact_face"]
    assert section is not None and (section["part"], section["covered"]) == ("body", True)
    shown = next(one for one in model_of(design).maps if one.key == "staircase")
    assert section["cusp_median_mm"] == pytest.approx(np.median(shown.values), rel=1e-5)
    assert section["cusp_max_mm"] == pytest.approx(shown.values.max(), rel=1e-5)
    assert max(report["stations"]["staircase_mm"]) == pytest.approx(section["cusp_max_mm"], rel=1e-5)
    assert 0.0 < section["cusp_median_mm"] < section["cusp_p95_mm"] <= section["cusp_max_mm"] <= 0.2
    assert section["over_share"] == pytest.approx(
        np.mean(shown.values > limit("contact_cusp").value), abs=1e-5
    )
    advice = section["advice"]
    assert advice is not None and advice["more_layers"] > 0 and advice["more_time_min"] > 0.0
    assert advice["cusp_p95_mm"] <= limit("contact_cusp").value
    page = contact_face_block(report)
    for one in advice["ranges"]:
        assert f"<b>{one['layer_mm']:g}</b>" in page and f"{one['from_mm']:g} to" in page
    assert "foam strip lies over them" in page and "3MF core" in page
    assert glossary_entry("contact_face.cusp_p95_mm") is not None


def test_without_a_plan_there_is_no_advice_and_a_tube_has_no_face() -> None:
    report = fit_report(samples.design(), samples.examined())
    assert report["contact_face"] is not None and report["contact_face"]["advice"] is None
    assert fit_report(samples.tube())["contact_face"] is None


def test_what_the_skin_feels_is_told_otherwise() -> None:
    design = samples.design()
    examined = replace(samples.examined(), plans={"body": plan_part(design, "body")})
    report = fit_report(design, examined)
    report["contact_face"]["covered"] = False
    page = contact_face_block(report)
    assert "counts these grooves" in page and "Even layers do" not in page

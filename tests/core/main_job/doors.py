"""Every door says the same of a design: panel, fit-report.json, page and command line."""

from __future__ import annotations

import json

import pytest
from lxml import html as lxml_html
from sealwright.jobs.commands import report_text
from sealwright.jobs.print_job import plan_part
from sealwright.physics.fit_range import FitSettings
from sealwright.physics.prediction_settings import PredictionSettings
from sealwright.report.fit_report import fit_report, report_json
from sealwright.report.page.html import html_report
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measure import Examined, measured_of
from sealwright.verdicts.rows import check_rows, quick_rows
from to_the_end import predict

from .cases import Case

WHOLE = ("sensor-scan-a", "sensor-scan-b", "marlo-by-phone", "head-a", "face-f26", "raw-scan-a")
"""Noisy scans that are examined in full; of the others what a build alone knows."""
ONLY_EXAMINED = ("parts.", "assembly.", "printing.", "prediction.", "second_pose.")
"""Keys of verdicts that a build alone cannot give."""


def examined(case: Case) -> Examined:
    """Prediction with few draws and the print of one part for some scans, nothing for the others."""
    if case.name not in WHOLE:
        return Examined()
    assumed = PredictionSettings(fit=FitSettings(samples=8))
    return Examined(
        prediction=predict(case.design, assumed), plans={"retainer": plan_part(case.design, "retainer")}
    )


def told_on_page(page: str) -> dict[str, tuple[str, str, str, str]]:
    """Topic -> verdict, value, limit and reason, as they stand in the table of verdicts."""
    rows = {}
    for row in lxml_html.fromstring(page).xpath("//section[@id='verdict']//table//tr[td]"):
        pill, topic, value, limit, reason, _ = (cell.text_content().strip() for cell in row.xpath("td"))
        rows[topic] = (pill.split()[-1], value, limit, reason)
    return rows


def test_every_door_says_the_same(case: Case) -> None:
    work = examined(case)
    report = fit_report(case.design, work)
    stored = {verdict["key"]: verdict for verdict in json.loads(report_json(report))["verdicts"]}
    panel = check_rows(judge(measured_of(case.design, work)), case.design, work.prediction)
    page = told_on_page(html_report(report))
    shell = report_text(report).splitlines()
    for verdict in stored.values():
        word, value, limit = verdict["verdict"], verdict["value_text"], verdict["limit_text"]
        assert page[verdict["topic"]] == (word, value, limit, verdict["reason"])
        assert f"{word.upper():>5}  {verdict['topic']}: {value} ({limit})." in shell
        if verdict["value"] is not None:
            percent = 100.0 if value.endswith(" %") and verdict["unit"] == "1" else 1.0
            # three or four digits are shown, at least two
            assert float(value.split()[0]) == pytest.approx(percent * verdict["value"], rel=0.05, abs=0.006)
    same = ("key", "verdict", "topic", "value_text", "limit_text", "reason", "fix")
    wanted = {tuple(v[name] for name in same) for v in stored.values() if not v["key"].startswith("parts.")}
    assert {(r.key, r.verdict, r.label, r.value, r.limit, r.reason, r.fix) for r in panel} == wanted


def test_the_panel_after_a_build_shows_the_cheap_ones(case: Case) -> None:
    quick = {row.key: row for row in quick_rows(case.design)}
    full = {v["key"]: v for v in fit_report(case.design)["verdicts"]}
    assert set(quick) == {key for key in full if not key.startswith(ONLY_EXAMINED)}
    assert {"contact.share", "clearance.entry_mm", "clearance.nose_lips_mm", "wall.min_mm"} <= set(quick)
    for key, row in quick.items():
        stored = full[key]
        assert (row.verdict, row.value, row.limit) == (
            stored["verdict"],
            stored["value_text"],
            stored["limit_text"],
        )

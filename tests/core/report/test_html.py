"""The page: escaped, offline, deterministic, its numbers those of the JSON, cautions first."""

from __future__ import annotations

import base64
import copy
import json
import re
from functools import cache

import numpy as np
import pytest
import trimesh
from lxml import html as lxml_html
from scipy.spatial import cKDTree
from sealwright.render.pictures import png_bytes
from sealwright.report.fit_report import fit_report
from sealwright.report.keys import glossary_entry, leaves
from sealwright.report.model3d import model_of
from sealwright.report.page.guide import assembly, cleaning, parts_list
from sealwright.report.page.html import html_report
from sealwright.report.page.text import at, embedded, number, rounded
from sealwright.verdicts.measure import Examined

from . import samples

pytestmark = [pytest.mark.heavy, pytest.mark.both]

PICTURE = png_bytes(np.full((6, 8, 3), 200, dtype=np.uint8))


@cache
def model():
    return model_of(samples.design(), samples.prediction())


@cache
def page() -> str:
    return html_report(samples.report(), {"worn-front.png": PICTURE, '"><b>x.png': PICTURE}, model())


@cache
def tree():
    return lxml_html.fromstring(page())


def test_titles_and_texts_are_escaped():
    report = samples.report()
    report["remarks"] = [
        {
            "level": "note",
            "text": "<img src=x onerror=alert(2)>",
            "role": "<i>",
            "key": "",
            "point_mm": None,
            "frame": "",
        }
    ]
    report["verdicts"][0]["fix"] = "</details><svg onload=alert(3)>"
    text = html_report(report, {'"><b>x.png': PICTURE}, None)
    found = lxml_html.fromstring(text)
    assert found.findtext(".//h1") == samples.NASTY
    assert found.xpath("//b[starts-with(text(), 'x')]") == []
    assert found.xpath("//*[@onerror or @onload or @onclick]") == []
    # Scripts that run are only our own files; data scripts hold JSON.
    running = [s for s in found.iter("script") if s.get("type") != "application/json"]
    assert all("alert" not in (s.text or "") for s in running)
    assert json.loads(found.get_element_by_id("fit-report").text)["title"] == samples.NASTY


def test_data_cannot_leave_its_element():
    text = embedded({"a": "</script><!--\u2028&"}, "x")
    inner = text[text.index(">") + 1 : text.rindex("<")]
    assert "<" not in inner and ">" not in inner and "&" not in inner and "\u2028" not in inner
    assert json.loads(inner) == {"a": "</script><!--\u2028&"}


def test_page_asks_for_nothing_from_outside():
    for name in ("src", "href", "action", "data", "poster", "srcset", "xlink:href"):
        for value in tree().xpath(f"//@*[name()='{name}']"):
            assert value.startswith(("data:image/png;base64,", "#")), value
    assert tree().xpath("//link | //iframe | //object | //base") == []
    # Addresses may be named as sources, never loaded: no scheme appears in any style or running script.
    for node in [*tree().iter("style"), *tree().iter("script")]:
        if node.get("type") != "application/json":
            assert not re.search(r"https?:|url\(|@import|fetch\(|XMLHttpRequest|WebSocket", node.text or "")
    policy = tree().xpath("//meta[@http-equiv='Content-Security-Policy']/@content")[0]
    assert "default-src 'none'" in policy


def test_cautions_stand_first():
    first = tree().xpath("//main/*[1]")[0]
    assert first.get("id") == "cautions"
    words = first.text_content().lower()
    for wanted in ("not certified", "19.5", "idlh", "facial hair", "seal check", "fit test", "children"):
        assert wanted in words
    assert "skin reaction" in words and "a prediction is no fit test" in words


def test_links_lead_to_sections_and_tell_the_verdict():
    links = tree().xpath("//header/nav/a")
    assert [a.get("href") for a in links][:2] == ["#cautions", "#verdict"]
    assert all(tree().xpath(f"//main//*[@id='{a.get('href')[1:]}']") for a in links)
    told = {"pass": "passed", "warn": "with warnings", "fail": "failed"}[
        samples.report()["summary"]["verdict"]
    ]
    assert told in links[1].text_content()


def test_hardware_numbers_carry_limit_and_source():
    rows = {
        row.findtext(".//code"): [cell.text_content() for cell in row.iter("td")]
        for row in tree().xpath("//section[@id='numbers']//table[@class='facts']//tr[td]")
    }
    # docs/standards 4.2: static face seals are squeezed by 20 to 30 % (V)
    what, value, limit, _, source = rows["ring_squeeze_percent"]
    assert "20" in limit and "30" in limit and source
    assert 20.0 <= float(value.split()[0]) <= 30.0
    assert what


def test_words_of_the_trade_are_explained_near_the_top():
    words = tree().xpath("//section[@id='verdict']//dl/dt/text()")
    assert {"Fit factor", "Dead space", "Seal line", "V, M, C"} <= set(words)
    first = tree().get_element_by_id("cautions").text_content()
    assert "V: read on a secondary page" in first


def test_every_number_is_that_of_the_report():
    report, checked = samples.report(), 0
    for node in tree().iter("data"):
        path, value = node.get("data-key"), json.loads(node.get("value"))
        assert at(report, path) == value, path
        shown = node.text_content()
        if path.startswith(
            ("verdicts.", "aims.")
        ):  # as every door says it; its digits are tested with the verdicts
            assert shown == at(report, path.removesuffix(".value") + ".value_text")
            continue
        if shown.startswith(("<", ">")):
            assert abs(value) < 0.001
            continue
        unit = node.getnext().text if node.getnext() is not None else ""
        stored = glossary_entry(
            re.sub(r"\.\d+", "[]", path)
            if path.startswith(("breathing", "trust", "tried", "contact_surface"))
            else path
        )
        share = unit == "%" and stored is not None and stored.unit == "1"
        factor = 100.0 if share else 1.0 / 60.0 if unit == "h" and path.endswith("_min") else 1.0
        # Three digits are shown; two for the predicted fit factor.
        allowed = 0.05 if ".quantiles." in path else 0.0051
        assert float(shown) == pytest.approx(factor * value, rel=allowed, abs=0.0051), path
        checked += 1
    assert checked > 200


def test_most_numbers_of_the_report_are_on_the_page():
    on_page = {n.get("data-key") for n in tree().iter("data")}
    single = [
        path
        for path, value in leaves(samples.report())
        if isinstance(value, float)
        and "[]" not in path
        and not path.startswith(("recipe", "prediction.assumed", "stations.", "timings."))
    ]
    missing = [path for path in single if path not in on_page]
    # Soundness repeats the volume; everything else is there.
    assert [p for p in missing if ".soundness." not in p] == []


def test_verdicts_and_what_to_do_are_on_the_page():
    text = tree().get_element_by_id("verdict").text_content()
    for verdict in samples.report()["verdicts"]:
        assert verdict["topic"] in text
        assert (verdict["common"] or verdict["fix"]) in text
    assert "Fit test. Not done" in text


def test_two_pages_are_the_same_whatever_the_timings():
    report = samples.report()
    report["timings"] = {"steps_s": {"design": 99.0}, "total_s": 99.0}
    again = html_report(
        report,
        {"worn-front.png": PICTURE, '"><b>x.png': PICTURE},
        model_of(samples.design(), samples.prediction()),
    )
    assert again == page()


def test_page_stays_small():
    # Seven pictures of at most 300 kB come on top; six megabytes are the aim for the whole page.
    assert len(page()) < 3_000_000


def test_page_without_pictures_model_prediction_or_chamber():
    for report in (
        fit_report(samples.tube()),
        fit_report(samples.design(), Examined(soundness=samples.soundness())),
    ):
        found = lxml_html.fromstring(html_report(report))
        assert found.xpath("//canvas") == []
        assert found.xpath("//main/*[1]")[0].get("id") == "cautions"
        assert "None" not in found.get_element_by_id("verdict").text_content()


def test_strip_chart_follows_the_stations():
    report = samples.report()
    curves = {n.get("data-key"): n.get("d") for n in tree().xpath("//*[name()='path'][@data-key]")}
    assert {"stations.gap_mm", "stations.pressure_kpa", "stations.leak_share"} <= set(curves)
    count = report["seal_line"]["stations"]
    heights = [float(pair.split()[1]) for pair in re.split("[ML]", curves["stations.pressure_kpa"])[1:]]
    assert len(heights) == count + 1
    values = np.array(report["stations"]["pressure_kpa"])
    # SVG runs downwards: the highest pressure has the smallest height; heights are a straight map of values.
    slope = np.polyfit(values, heights[:-1], 1)
    assert slope[0] < 0
    assert np.abs(np.polyval(slope, values) - heights[:-1]).max() < 0.11  # one decimal is written
    words = tree().xpath("//*[name()='svg']")[0].text_content()
    for mark in ("nose", "chin", "left cheek", "right cheek"):
        assert mark in words


def _mesh(packed) -> trimesh.Trimesh:
    def numbers(text):
        return np.frombuffer(base64.b64decode(text), dtype="<u2").astype(np.int64)

    points = np.array(packed["origin"]) + packed["step"] * numbers(packed["vertices"]).reshape(-1, 3)
    return trimesh.Trimesh(points, numbers(packed["triangles"]).reshape(-1, 3), process=False)


def test_model_of_the_page_is_the_design():
    data = json.loads(tree().get_element_by_id("model3d").text)
    pieces = {p["name"]: _mesh(p) for p in data["pieces"]}
    for name, solid in samples.design().parts.items():
        # Simplified by at most 0.03 mm over an area of about 45,000 mm2: volume within 1 %.
        assert pieces[name].volume == pytest.approx(solid.volume, rel=0.01)
        assert np.allclose(pieces[name].bounds, solid.mesh.bounds, atol=0.1)
        assert len(pieces[name].faces) < len(solid.mesh.faces)
    assert {m["key"] for m in data["maps"]} == {
        "gap",
        "staircase",
        "pressure",
        "open_gap",
        "thickness",
        "clearance",
    }


def test_maps_carry_the_measured_values():
    data = json.loads(tree().get_element_by_id("model3d").text)
    maps = {m["key"]: m for m in data["maps"]}
    design, prediction = samples.design(), samples.prediction()

    def values(key):
        packed = maps[key]["values"]
        whole = np.frombuffer(base64.b64decode(packed["data"]), dtype="<u2").astype(np.float64)
        return packed["low"] + packed["step"] * whole

    # Sixteen bits over the range: half a step is 1/131,000 of it.
    assert np.allclose(values("thickness"), design.wall.thickness, atol=1e-4)
    assert values("pressure").max() == pytest.approx(prediction.contact.peak_kpa, rel=1e-4)
    # Every place of the sheet carries the pressure of the same place of the patch, whatever their order.
    away, nearest = cKDTree(prediction.band.patch.points).query(_mesh(maps["pressure"]).vertices)
    assert away.max() < 0.01  # coordinates are in steps of about 2 um
    assert np.allclose(values("pressure"), prediction.contact.pressure_kpa[nearest], atol=1e-3)


def test_rounding_for_reading():
    # Expected by hand.
    cases = {
        0.0: "0",
        0.00012: "&lt; 0.001",
        0.0512: "0.051",
        1.234: "1.23",
        12.34: "12.3",
        123.4: "123",
        30.0: "30",
    }
    assert {value: rounded(value) for value in cases} == cases
    report = samples.report()
    report["contact"]["gap_max_mm"] = None
    assert "–" in number(report, "contact.gap_max_mm")


def test_guide_follows_the_design():
    report = samples.report()
    listed = " ".join(" ".join(row) for row in parts_list(report))
    assert "O-ring" in listed and report["hardware"]["ports"][0]["ring"] in listed
    assert "medium" in listed and "strap" in listed
    steps = " ".join(assembly(report))
    assert steps.index("seal check") < steps.index("fit tested")
    assert "sheds fibres" not in steps
    shedding = copy.deepcopy(report)
    shedding["filter"]["sheds_fibres"] = True
    assert "sheds fibres" in " ".join(assembly(shedding))
    assert report["filter"]["efficiency_note"] in " ".join(cleaning(report))

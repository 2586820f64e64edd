"""The tables of the page: every number with unit, limit, uncertainty and source."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ...limits import limit
from ..keys import glossary_entry
from ..shape import FitReport
from .sentences import sentence
from .text import FACTS_HEAD, at, block, escaped, facts_table, html_table, number

_TITLES = {
    "scan": "Scan",
    "seal_line": "Seal line",
    "contact": "Contact as designed",
    "cushion": "Cushion",
    "clearance": "Clearance",
    "wall": "Chamber wall",
    "volumes": "Volumes",
    "masses": "Masses",
    "hang": "What hangs on the face",
    "filter": "Filter medium",
}


def numbers_block(report: FitReport) -> str:
    """Tables of scan and shape, folded up one by one."""
    parts = [
        fold(title, facts_table(report, name))
        for name, title in _TITLES.items()
        if at(report, name) is not None
    ]
    parts += [
        fold("Landmarks", _landmarks(report)),
        fold("The face among others", _sizing(report)),
        fold("Parts", _parts(report)),
        fold("Port, holder and lugs", _hardware(report)),
        fold("Assembly", _assembly(report)),
        fold("From scan coordinates to the design", _transform(report)),
    ]
    words = sentence("numbers.about")
    return block("All numbers", words, *parts, name="numbers")


def fold(title: str, content: str) -> str:
    """Content that can be unfolded under a title; nothing for empty content."""
    return f"<details><summary>{escaped(title)}</summary>{content}</details>" if content else ""


def _landmarks(report: FitReport) -> str:
    rows = []
    for name, mark in report["landmarks"].items():
        place = ", ".join(number(report, f"landmarks.{name}.point_mm.{i}", "") for i in range(3))
        sure = number(report, f"landmarks.{name}.confidence", "")
        rows.append((escaped(name.replace("_", " ")), place, sure, _doubt(mark["confidence"])))
    return html_table(("landmark", "x, y, z in mm, face frame", "confidence", ""), rows)


def _doubt(confidence: float) -> str:
    unsure = confidence < limit("landmark_confidence").value
    return sentence("numbers.doubtful_landmark") if unsure else ""


def _sizing(report: FitReport) -> str:
    sizing = report["sizing"]
    if sizing is None:
        return ""
    rows = []
    for name, measure in sizing["measures"].items():
        path = f"sizing.measures.{name}"
        shares = [
            f"{number(report, f'{path}.percentile.{sex}', '')} % of {escaped(_people(sex))}"
            for sex in measure["percentile"]
        ]
        error = f"{number(report, f'{path}.error_mm')}, {number(report, f'{path}.confidence', '')}"
        source = f"{escaped(measure['source'])} ({escaped(measure['table_confidence'])})"
        value = number(report, f"{path}.value_mm")
        rows.append(
            (
                escaped(name.replace("_", " ")),
                value,
                error,
                ", ".join(shares),
                escaped(measure["note"]),
                source,
            )
        )
    head = ("measure", "value", "standard error, confidence", "smaller are", "note", "table of people")
    chances = ", ".join(
        f"cell {escaped(cell)} {number(report, f'sizing.cell_chances.{cell}')}"
        for cell in sizing["cell_chances"]
    )
    sure = f"<p>Chances: {chances}. Confidence {number(report, 'sizing.confidence', '')}.</p>"
    return f"<p>{escaped(sizing['text'])}</p>{sure}" + html_table(head, rows)


def _people(sex: str) -> str:
    return {"male": "men", "female": "women"}.get(sex, sex)


def _parts(report: FitReport) -> str:
    rows = []
    for name, part in report["parts"].items():
        path = f"parts.{name}"
        size = " × ".join(number(report, f"{path}.size_mm.{i}", "") for i in range(3)) + " <i>mm</i>"
        found = part["soundness"]
        state = ", ".join(escaped(p) for p in found["problems"]) or "sound"
        rows.append(
            (
                escaped(name),
                size,
                number(report, f"volumes.parts_mm3.{name}"),
                number(report, f"masses.parts.{name}.mass_g"),
                number(report, f"{path}.area_mm2"),
                number(report, f"{path}.triangles"),
                number(report, f"{path}.soundness.genus"),
                state,
            )
        )
    return html_table(
        ("part", "size", "volume", "mass, solid", "surface", "triangles", "through-holes", "soundness"), rows
    )


def _hardware(report: FitReport) -> str:
    out = []
    for index in range(len(report["hardware"]["ports"])):
        rows = _facts(report, f"hardware.ports.{index}", report["hardware"]["ports"][index])
        out.append(f"<h4>Port {index + 1}</h4>" + html_table(FACTS_HEAD, rows, "facts"))
    for name in ("holder", "lug"):
        rows = _facts(report, f"hardware.{name}", report["hardware"][name])
        if rows:
            out.append(f"<h4>{escaped(name.capitalize())}</h4>" + html_table(FACTS_HEAD, rows, "facts"))
    return "".join(out)


def _assembly(report: FitReport) -> str:
    """Every pair of mating parts, as measured and as stated."""
    found = report["assembly"]
    if found is None:
        return ""
    rows = []
    for index, pair in enumerate(found["pairs"]):
        path = f"assembly.pairs.{index}"
        deep, play, way = (
            f"{number(report, f'{path}.{name}', '')} / {number(report, f'{path}.{stated}', '')}"
            for name, stated in (
                ("depth_mm", "depth_stated_mm"),
                ("play_mm", "play_stated_mm"),
                ("way_depth_mm", "way_depth_stated_mm"),
            )
        )
        joint = f"{pair['part']} and {pair['other']}"
        rows.append(
            (
                escaped(joint),
                escaped(pair["how"]),
                number(report, f"{path}.overlap_mm3"),
                deep,
                play if pair["play_mm"] is not None else "",
                way if pair["way_travel_mm"] is not None else "",
                number(report, f"{path}.way_travel_mm") if pair["way_travel_mm"] is not None else "",
                escaped(pair["fault"] or "fits"),
            )
        )
    head = (
        "parts",
        "joint",
        "shared at home",
        "depth, mm: measured / stated",
        "play, mm: measured / stated",
        "depth on the way, mm: measured / stated",
        "way",
        "",
    )
    return sentence("numbers.assembly") + html_table(head, rows)


def _facts(report: FitReport, path: str, facts: Mapping[str, object]) -> list[tuple[str, ...]]:
    """Rows of single values with what the glossary knows of them."""
    rows, general = [], re.sub(r"\.\d+", "[]", path)
    for name, value in facts.items():
        key = glossary_entry(f"{general}.{name}")
        meaning = escaped(key.meaning if key else name.replace("_", " ")) + f" <code>{escaped(name)}</code>"
        plain = isinstance(value, bool | str) or value is None
        count = len(value) if isinstance(value, list) else 0
        several = [number(report, f"{path}.{name}.{i}") for i in range(count)]
        shown = escaped(value) if plain else ", ".join(several) or number(report, f"{path}.{name}")
        known = ("", "", "") if key is None else (key.limit, key.uncertainty, key.source)
        rows.append((meaning, shown, *map(escaped, known)))
    return rows


def _transform(report: FitReport) -> str:
    rows = [tuple(f"<code>{value:.9g}</code>" for value in row) for row in report["scan_to_design"]]
    words = sentence("numbers.transform")
    return words + html_table(("x", "y", "z", "shift"), rows)

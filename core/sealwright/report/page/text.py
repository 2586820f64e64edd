"""Pieces of the page: escaped text, numbers that carry their JSON value, tables made from the glossary."""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from html import escape
from pathlib import Path

from ...plain_data import number_of
from ..keys import Key, glossary_entry, leaves
from ..shape import FitReport

FACTS_HEAD = ("what", "value", "limit", "uncertainty", "source")
_WORDS = {"pass": "✓ pass", "warn": "! warn", "fail": "✕ fail"}
_POWERS = {"mm2": "mm²", "mm3": "mm³", "cm2": "cm²", "g/cm3": "g/cm³"}
_PLAIN_UNITS = ("-", "", "1", "see unit", "see limit")


def escaped(value: object) -> str:
    """Any value as escaped text; quotes too, so that it may stand in an attribute."""
    return escape(str(value), quote=True)


def page_file(name: str) -> str:
    """A file of the page (style or script) as text."""
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


def embedded(data: object, element: str) -> str:
    """Data as JSON inside a script element; nothing in it can end the element or start another."""
    content = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "<>&\u2028\u2029":
        content = content.replace(sign, f"\\u{ord(sign):04x}")
    return f'<script type="application/json" id="{escaped(element)}">{content}</script>'


def image_source(data: bytes) -> str:
    """PNG bytes as a source that needs no file."""
    return "data:image/png;base64," + base64.b64encode(data).decode("ascii")


def at(report: FitReport, path: str) -> object:
    """The value at a dotted path; list positions are numbers: ``verdicts.0.value``."""
    value: object = report
    for step in path.split("."):
        if isinstance(value, list):
            value = value[int(step)]
        elif isinstance(value, dict):
            value = value[step]
        else:
            raise KeyError(path)
    return value


def number_at(report: FitReport, path: str) -> float | None:
    """The number at a dotted path, see `at`; None where the report has null."""
    value = at(report, path)
    return None if value is None else number_of(value)


def rounded(value: float) -> str:
    """A number for reading, escaped: three or four digits, whole ones without decimals."""
    if float(value).is_integer() and abs(value) < 1e6:
        return f"{value:.0f}"
    size = abs(value)
    if size < 0.001:
        return "&lt; 0.001" if value > 0 else "&gt; −0.001"
    if size < 0.1:
        return f"{value:.2g}"
    return f"{value:.{0 if size >= 100.0 else 1 if size >= 10.0 else 2}f}"


def number(report: FitReport, path: str, unit: str | None = None) -> str:
    """A number of the report for the page, with its exact value and its path beside it.

    Parameters
    ----------
    path : dotted, concrete (see `at`).
    unit : shown behind it; None takes that of the glossary, shares are shown in per cent.
    """
    value = number_at(report, path)
    if value is None:
        return '<span class="none">–</span>'
    key = glossary_entry(_pattern(path))
    unit = (key.unit if key else "") if unit is None else unit
    shown, words = rounded(value), "" if unit in _PLAIN_UNITS else _POWERS.get(unit, unit)
    if unit == "1" and _is_share(path):
        shown, words = rounded(100.0 * value), "%"
    elif unit == "min" and value >= 100.0:
        shown, words = rounded(value / 60.0), "h"
    elif ".quantiles." in path:  # far less sure than its digits
        shown = f"{float(f'{value:.2g}'):g}"
    return (
        f'<span class="n"><data value="{json.dumps(value)}" data-key="{escaped(path)}">{shown}</data>'
        f"{' <i>' + escaped(words) + '</i>' if words else ''}</span>"
    )


def data(report: FitReport, path: str, shown: str) -> str:
    """A number of the report as it is said elsewhere, with its exact value and its path beside it."""
    value = at(report, path)
    if value is None:
        return escaped(shown)
    exact = f'value="{json.dumps(value)}" data-key="{escaped(path)}"'
    return f'<span class="n"><data {exact}>{escaped(shown)}</data></span>'


def _is_share(path: str) -> bool:
    name = path.rsplit(".", 1)[-1]
    return "share" in name or name == "chance_pass" or ".region_share." in path or ".cell_chances." in path


def _pattern(path: str) -> str:
    """The glossary form of a concrete path: numbers become list marks."""
    out: list[str] = []
    for step in path.split("."):
        if step.isdigit() and out and glossary_entry(".".join([*out[:-1], out[-1] + "[]"])) is not None:
            out[-1] += "[]"
        else:
            out.append(step)
    return ".".join(out)


def pill(verdict: str) -> str:
    """A verdict as a word with a sign, so that colour is not all that tells it."""
    return f'<span class="pill {escaped(verdict)}">{_WORDS.get(verdict, escaped(verdict))}</span>'


def html_table(head: Sequence[str], rows: Sequence[Sequence[str]], name: str = "") -> str:
    """A table from cells that are HTML already; it scrolls by itself on narrow screens."""
    if not rows:
        return ""
    top = "".join(f"<th>{escaped(h)}</th>" for h in head)
    body = "".join(
        "<tr>"
        + "".join(f'<td data-head="{escaped(h)}">{cell}</td>' for h, cell in zip(head, row, strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="scroll"><table class="{escaped(name)}"><thead><tr>{top}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def facts_table(report: FitReport, section: str, skip: Sequence[str] = ()) -> str:
    """All single values of a section with meaning, limit, uncertainty and source from the glossary."""
    rows = []
    for path, value in leaves(at(report, section), section):
        if "[]" in path or path.rsplit(".", 1)[-1] in skip or value in (None, "", [], {}):
            continue
        key = glossary_entry(path)
        if key is None:
            continue
        shown = number(report, path) if _is_number(value) else escaped(_word(value))
        meaning = escaped(_of_whom(key, path)) + (f" <code>{escaped(_own_name(path, section))}</code>")
        rows.append((meaning, shown, escaped(key.limit), escaped(key.uncertainty), escaped(key.source)))
    return html_table(FACTS_HEAD, rows, "facts")


def _of_whom(key: Key, path: str) -> str:
    """The meaning of a key, with the names that stand for any name in its path."""
    steps = zip(key.path.split("."), path.split("."), strict=False)
    names = [own.replace("_", " ") for general, own in steps if general == "*"]
    return f"{key.meaning.rstrip('.')}: {', '.join(names)}." if names else key.meaning


def _own_name(path: str, section: str) -> str:
    return path.removeprefix(section + ".")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _word(value: object) -> str:
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def listing(items: Sequence[str], kind: str = "ul") -> str:
    """A list of HTML items."""
    return f"<{kind}>" + "".join(f"<li>{item}</li>" for item in items) + f"</{kind}>"


def block(title: str, *content: str, name: str) -> str:
    """A section of the page with a heading that can be linked to."""
    return f'<section id="{escaped(name)}"><h2>{escaped(title)}</h2>{"".join(content)}</section>'

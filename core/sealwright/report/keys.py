"""Every key of the fit report with type, unit, meaning, limit, source and uncertainty.

The table itself is ``glossary.txt`` beside this file; report, schema, page and documentation all read it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ..limits import limit

_TYPES = ("text", "number", "integer", "flag", "section", "list", "recipe")
_LIMIT = re.compile(r"\{(\w+)\}")  # a limit of the table, by its name
_FREE = "recipe"  # a copy of settings: documented by their own schema


@dataclass(frozen=True)
class Key:
    """One key of the report.

    Attributes
    ----------
    path : dotted; ``[]`` is a list, ``*`` any name.
    type : "text", "number", "integer", "flag", "section", "list" or "recipe".
    nullable : the value may be null.
    optional : the key may be missing.
    unit : "-" where there is none, "1" for shares and counts.
    meaning : one sentence.
    limit : in words, empty where there is none.
    source : of limit or number, with confidence; empty where nothing is claimed.
    uncertainty : in words, empty where nothing is known.
    """

    path: str
    type: str
    nullable: bool
    optional: bool
    unit: str
    meaning: str
    limit: str
    source: str
    uncertainty: str = ""


@cache
def glossary() -> dict[str, Key]:
    """All keys by path, in the order of the report."""
    text = (Path(__file__).parent / "glossary.txt").read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    keys = [_read(row) for row in rows]
    return {key.path: key for key in keys}


def _read(row: str) -> Key:
    path, kind, unit, *words = (cell.strip() for cell in _LIMIT.sub(_value, row).split("|"))
    plain = kind.removesuffix("?")
    if plain not in _TYPES:
        raise ValueError(f"The glossary has the unknown type {kind!r} at {path}.")
    nullable, optional = kind != plain, path.startswith("~")
    return Key(path.removeprefix("~"), plain, nullable, optional, unit, *words)


def _value(name: re.Match[str]) -> str:
    """The number of a row of the table of limits, for its name in braces."""
    return f"{limit(name[1]).value:g}"


@cache
def glossary_entry(path: str) -> Key | None:
    """The glossary entry of a concrete path such as ``parts.body.size_mm[]``; None when there is none.

    An exact match of the list marks wins; a path that stops at a list finds the entry of its items.
    """
    known = glossary()
    if path in known:
        return known[path]
    steps = path.split(".")
    alike = [entry for entry in known.values() if _names_match(entry.path.split("."), steps)]
    exact = [entry for entry in alike if entry.path.count("[]") == path.count("[]")]
    return next(iter(exact or alike), None)


def _names_match(pattern: list[str], steps: list[str]) -> bool:
    if len(pattern) != len(steps):
        return False
    pairs = zip(pattern, steps, strict=True)
    return all(p.rstrip("[]") in ("*", s.rstrip("[]")) for p, s in pairs)


def leaves(report: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Every leaf of a report as (path, value); list positions are written ``[]``, settings are one leaf.

    Empty sections and lists are leaves too.
    """
    entry = glossary_entry(path) if path else None
    if entry is not None and entry.type == _FREE:
        yield path, report
    elif isinstance(report, dict) and report:
        for name, item in report.items():
            yield from leaves(item, f"{path}.{name}" if path else str(name))
    elif isinstance(report, list) and report:
        for item in report:
            yield from leaves(item, f"{path}[]")
    else:
        yield path, report

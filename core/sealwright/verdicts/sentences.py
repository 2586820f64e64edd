"""The sentences of all verdicts: read from ``sentences.toml`` beside this file, filled with words."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from .verdict import Grade

_FILE = "sentences.toml"


@cache
def sentences(name: str) -> Mapping[str, str]:
    """The templates of a rule: ``topic``, ``limit``, and its reasons and fixes by name.

    Raises
    ------
    KeyError : no such rule, which is our fault.
    """
    found: dict[str, str] = _file()["rules"][name]
    return found


def headlines() -> dict[Grade, str]:
    """One headline for each overall verdict."""
    found = sentences("summary")
    return {"fail": found["fail"], "warn": found["warn"], "pass": found["pass"]}


def filled(template: str, words: Mapping[str, str | int | float]) -> str:
    """A template with its words; ``{value:.2f}`` as in Python, no gaps left where a word is empty."""
    return " ".join(template.format_map(words).split())


@cache
def _file() -> dict[str, dict[str, dict[str, str]]]:
    with (Path(__file__).parent / _FILE).open("rb") as stream:
        return tomllib.load(stream)


def number_text(value: float | None, unit: str, share: bool) -> str:
    """A number as every door shows it: three or four digits with its unit, shares in per cent."""
    if value is None:
        return "unknown"
    if share:
        return f"{_digits(100.0 * value)} %"
    return _digits(value) + ("" if unit == "1" else f" {unit}")


def _digits(value: float) -> str:
    size = abs(value)
    if float(value).is_integer() and size < 1e6:
        return f"{value:.0f}"
    if size < 0.1:
        return f"{value:.2g}"
    return f"{value:.{0 if size >= 100.0 else 1 if size >= 10.0 else 2}f}"

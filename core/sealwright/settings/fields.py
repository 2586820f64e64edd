"""The kinds of fields that a section of settings is made of."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

LEAST_POINTS = 4
"""A closed line needs that many control points; fewer are refused, see `facepiece.seal_line.line_through`."""

REACH_MM = 300.0
"""No coordinate of a control point is larger: the face frame starts at subnasale, and no head is so large."""

APART_MM = 0.1
"""Control points lie at least this far from each other; nearer ones are one point written twice."""


def quantity(default: float, unit: str, low: float, high: float, doc: str) -> Any:
    """A number with unit and closed range."""
    meta = {"kind": "number", "unit": unit, "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def optional_quantity(unit: str, low: float, high: float, usual: float, doc: str) -> Any:
    """A number with unit and closed range, or None, the default: chosen automatically.

    Parameters
    ----------
    usual : where a panel starts when the maker takes over.
    """
    meta = {"kind": "number", "unit": unit, "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=None, metadata=meta | {"optional": True, "usual": usual})


def count(default: int, low: int, high: int, doc: str) -> Any:
    """A whole number with closed range."""
    meta = {"kind": "integer", "unit": "1", "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def choice(default: str, options: Sequence[str] | Mapping[str, str], doc: str) -> Any:
    """One of some words; a mapping gives the name of each for people."""
    return dataclasses.field(default=default, metadata=_choices(options, doc))


def optional_choice(options: Sequence[str] | Mapping[str, str], doc: str) -> Any:
    """One of some words, or None, the default: chosen automatically."""
    return dataclasses.field(default=None, metadata=_choices(options, doc) | {"optional": True})


def _choices(options: Sequence[str] | Mapping[str, str], doc: str) -> dict[str, Any]:
    names = tuple(options.values()) if isinstance(options, Mapping) else ()
    return {"kind": "choice", "options": tuple(options), "names": names, "doc": doc}


def switch(default: bool, doc: str) -> Any:
    """Yes or no."""
    return dataclasses.field(default=default, metadata={"kind": "switch", "doc": doc})


def text(default: str, doc: str) -> Any:
    """Free text."""
    return dataclasses.field(default=default, metadata={"kind": "text", "doc": doc})


def section(cls: type, doc: str) -> Any:
    """A nested section with all its defaults."""
    return dataclasses.field(default_factory=cls, metadata={"kind": "section", "class": cls, "doc": doc})


def given(cls: type, doc: str) -> Any:
    """A section that follows from other decisions: no file, panel or page has it; the program hands it in."""
    return dataclasses.field(default_factory=cls, metadata={"kind": "given", "class": cls, "doc": doc})


def decided(cls: Any) -> tuple[dataclasses.Field[Any], ...]:
    """The fields of a section, or of its class, that the maker decides: all but those that are `given`."""
    return tuple(field for field in dataclasses.fields(cls) if field.metadata["kind"] != "given")


def sections(cls: type, default: Sequence[Any], doc: str) -> Any:
    """A list of sections of one class."""
    fixed = tuple(default)
    return dataclasses.field(
        default_factory=lambda: fixed, metadata={"kind": "sections", "class": cls, "doc": doc}
    )


def points(doc: str) -> Any:
    """Points (x, y, z) of a closed line in mm, or None, the default: chosen automatically."""
    return dataclasses.field(
        default=None, metadata={"kind": "points", "unit": "mm", "doc": doc, "optional": True}
    )

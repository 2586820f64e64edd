"""The kinds of fields that a section of settings is made of."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TypeVar

T = TypeVar("T")

LEAST_POINTS = 4
"""A closed line needs that many control points; fewer are refused, see `facepiece.seal_line.line_through`."""

REACH_MM = 300.0
"""No coordinate of a control point is larger: the face frame starts at subnasale, and no head is so large."""

APART_MM = 0.1
"""Control points lie at least this far from each other; nearer ones are one point written twice."""


def quantity(default: float, unit: str, low: float, high: float, doc: str) -> float:
    """A number with unit and closed range."""
    meta = {"kind": "number", "unit": unit, "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def optional_quantity(unit: str, low: float, high: float, usual: float, doc: str) -> float | None:
    """A number with unit and closed range, or None, the default: chosen automatically.

    Parameters
    ----------
    usual : where a panel starts when the maker takes over.
    """
    meta = {"kind": "number", "unit": unit, "low": low, "high": high, "doc": doc}
    made: float | None = dataclasses.field(default=None, metadata=meta | {"optional": True, "usual": usual})
    return made


def count(default: int, low: int, high: int, doc: str) -> int:
    """A whole number with closed range."""
    meta = {"kind": "integer", "unit": "1", "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def choice(default: str, options: Sequence[str] | Mapping[str, str], doc: str) -> str:
    """One of some words; a mapping gives the name of each for people."""
    return dataclasses.field(default=default, metadata=_choices(options, doc))


def optional_choice(options: Sequence[str] | Mapping[str, str], doc: str) -> str | None:
    """One of some words, or None, the default: chosen automatically."""
    made: str | None = dataclasses.field(default=None, metadata=_choices(options, doc) | {"optional": True})
    return made


def _choices(options: Sequence[str] | Mapping[str, str], doc: str) -> dict[str, object]:
    names = tuple(options.values()) if isinstance(options, Mapping) else ()
    return {"kind": "choice", "options": tuple(options), "names": names, "doc": doc}


def switch(default: bool, doc: str) -> bool:
    """Yes or no."""
    return dataclasses.field(default=default, metadata={"kind": "switch", "doc": doc})


def text(default: str, doc: str) -> str:
    """Free text."""
    return dataclasses.field(default=default, metadata={"kind": "text", "doc": doc})


def section(cls: type[T], doc: str) -> T:
    """A nested section with all its defaults."""
    return dataclasses.field(default_factory=cls, metadata={"kind": "section", "class": cls, "doc": doc})


def given(cls: type[T], doc: str) -> T:
    """A section that follows from other decisions: no file, panel or page has it; the program hands it in."""
    return dataclasses.field(default_factory=cls, metadata={"kind": "given", "class": cls, "doc": doc})


def fields_of(section: object) -> tuple[dataclasses.Field[object], ...]:
    """The fields of a section or of its class."""
    if not dataclasses.is_dataclass(section):
        raise TypeError(f"{type(section).__name__} is no section of settings")
    return dataclasses.fields(section)


def decided(section: object) -> tuple[dataclasses.Field[object], ...]:
    """The fields of a section, or of its class, that the maker decides: all but those that are `given`."""
    return tuple(field for field in fields_of(section) if field.metadata["kind"] != "given")


def sections(cls: type[T], default: Sequence[T], doc: str) -> tuple[T, ...]:
    """A list of sections of one class."""
    fixed = tuple(default)
    return dataclasses.field(
        default_factory=lambda: fixed, metadata={"kind": "sections", "class": cls, "doc": doc}
    )


def points(doc: str) -> tuple[tuple[float, float, float], ...] | None:
    """Points (x, y, z) of a closed line in mm, or None, the default: chosen automatically."""
    made: tuple[tuple[float, float, float], ...] | None = dataclasses.field(
        default=None, metadata={"kind": "points", "unit": "mm", "doc": doc, "optional": True}
    )
    return made

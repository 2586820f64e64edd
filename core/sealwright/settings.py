"""Settings with unit, range and reason: frozen dataclasses whose fields check and describe themselves.

A section of the recipe is a frozen dataclass whose fields are made with `quantity`, `count`, `choice`,
`switch`, `text` or `section`. From it come the JSON form, the JSON schema, the panel and the documentation.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from .errors import BadRecipe, Where

T = TypeVar("T")

_LONGEST = 1e300  # whole numbers in JSON may be longer than any float


def quantity(default: float, unit: str, low: float, high: float, doc: str) -> Any:
    """A number with unit and closed range."""
    meta = {"kind": "number", "unit": unit, "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def count(default: int, low: int, high: int, doc: str) -> Any:
    """A whole number with closed range."""
    meta = {"kind": "integer", "unit": "1", "low": low, "high": high, "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def choice(default: str, options: Sequence[str], doc: str) -> Any:
    """One of some words."""
    meta = {"kind": "choice", "options": tuple(options), "doc": doc}
    return dataclasses.field(default=default, metadata=meta)


def switch(default: bool, doc: str) -> Any:
    """Yes or no."""
    return dataclasses.field(default=default, metadata={"kind": "switch", "doc": doc})


def text(default: str, doc: str) -> Any:
    """Free text."""
    return dataclasses.field(default=default, metadata={"kind": "text", "doc": doc})


def section(cls: type, doc: str) -> Any:
    """A nested section with all its defaults."""
    return dataclasses.field(default_factory=cls, metadata={"kind": "section", "class": cls, "doc": doc})


def sections(cls: type, default: Sequence[Any], doc: str) -> Any:
    """A list of sections of one class."""
    fixed = tuple(default)
    return dataclasses.field(
        default_factory=lambda: fixed, metadata={"kind": "sections", "class": cls, "doc": doc}
    )


def points(doc: str) -> Any:
    """An optional list of (x, y, z) in mm; empty means automatic."""
    return dataclasses.field(default=(), metadata={"kind": "points", "unit": "mm", "doc": doc})


def check_settings(value: Any, key: str = "recipe") -> None:
    """Check every field of a section, and of the sections in it.

    Raises
    ------
    BadRecipe : a value of the wrong type or out of range; `where.key` names it.
    """
    for field in dataclasses.fields(value):
        _check_value(getattr(value, field.name), field.metadata, f"{key}.{field.name}")


def _refuse(key: str, found: Any, wanted: str) -> BadRecipe:
    return BadRecipe(f"{key} is {found!r}; it must be {wanted}.", Where("recipe", key=key), f"Give {wanted}.")


def _check_value(value: Any, meta: Mapping[str, Any], key: str) -> None:
    kind = meta["kind"]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if kind in ("number", "integer"):
        wanted = f"a {'whole ' if kind == 'integer' else ''}number from {meta['low']} to {meta['high']}"
        if meta["unit"] != "1":
            wanted += f" {meta['unit']}"
        # The range comes first: a number of four hundred digits is no float.
        good = number and meta["low"] <= value <= meta["high"]
        if not good or (kind == "integer" and not float(value).is_integer()):
            raise _refuse(key, value, wanted)
    elif kind == "choice" and value not in meta["options"]:
        raise _refuse(key, value, "one of " + ", ".join(meta["options"]))
    elif kind == "switch" and not isinstance(value, bool):
        raise _refuse(key, value, "true or false")
    elif kind == "text" and not isinstance(value, str):
        raise _refuse(key, value, "text")
    elif kind == "section":
        check_settings(value, key)
    elif kind == "sections":
        for index, item in enumerate(value):
            check_settings(item, f"{key}[{index}]")
    elif kind == "points":
        for index, item in enumerate(value):
            if len(item) != 3 or not all(isinstance(c, int | float) and abs(c) < _LONGEST for c in item):
                raise _refuse(f"{key}[{index}]", item, "three numbers in mm")


def settings_from(cls: type[T], data: Any, key: str = "recipe") -> T:
    """Read a section from plain JSON data; missing keys take their defaults.

    Raises
    ------
    BadRecipe : an unknown key, a wrong type, or a value out of range.
    """
    if not isinstance(data, Mapping):
        raise _refuse(key, data, "an object with keys and values")
    known = {f.name: f for f in dataclasses.fields(cls)}  # type: ignore[arg-type]
    unknown = sorted(set(data) - set(known))
    if unknown:
        raise BadRecipe(
            f"{key} has the unknown key {unknown[0]!r}.",
            Where("recipe", key=f"{key}.{unknown[0]}"),
            "Use one of: " + ", ".join(known) + ".",
        )
    values: dict[str, Any] = {}
    for name, item in data.items():
        meta, path = known[name].metadata, f"{key}.{name}"
        values[name] = _read_value(item, meta, path)
    made = cls(**values)
    check_settings(made, key)
    return made


def _read_value(item: Any, meta: Mapping[str, Any], path: str) -> Any:
    kind = meta["kind"]
    if kind == "section":
        return settings_from(meta["class"], item, path)
    if kind in ("sections", "points") and not isinstance(item, list | tuple):
        raise _refuse(path, item, "a list")
    if kind == "sections":
        return tuple(settings_from(meta["class"], part, f"{path}[{i}]") for i, part in enumerate(item))
    if kind == "points":
        return tuple(tuple(p) if isinstance(p, list | tuple) else (p,) for p in item)
    if kind == "integer" and isinstance(item, float) and item.is_integer():
        return int(item)
    if kind == "number" and isinstance(item, int) and not isinstance(item, bool):
        return float(item) if abs(item) < _LONGEST else item
    return item


def settings_to(value: Any) -> dict[str, Any]:
    """A section as plain JSON data."""
    out: dict[str, Any] = {}
    for field in dataclasses.fields(value):
        item, kind = getattr(value, field.name), field.metadata["kind"]
        if kind == "section":
            item = settings_to(item)
        elif kind == "sections":
            item = [settings_to(part) for part in item]
        elif kind == "points":
            item = [list(p) for p in item]
        out[field.name] = item
    return out


def schema_of(cls: type) -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of a section."""
    properties = {}
    for field in dataclasses.fields(cls):
        properties[field.name] = _schema_value(field)
    return {"type": "object", "additionalProperties": False, "properties": properties}


def _schema_value(field: dataclasses.Field[Any]) -> dict[str, Any]:
    meta, kind = field.metadata, field.metadata["kind"]
    doc = {"description": meta["doc"]}
    if kind in ("number", "integer"):
        if meta["unit"] != "1":
            doc["description"] += f" Unit: {meta['unit']}."
        limits = {"minimum": meta["low"], "maximum": meta["high"]}
        return {"type": kind, **limits, "default": field.default, **doc}
    if kind == "choice":
        return {"enum": list(meta["options"]), "default": field.default, **doc}
    if kind == "switch":
        return {"type": "boolean", "default": field.default, **doc}
    if kind == "text":
        return {"type": "string", "default": field.default, **doc}
    if kind == "section":
        return {**schema_of(meta["class"]), **doc}
    if kind == "sections":
        return {"type": "array", "items": schema_of(meta["class"]), **doc}
    triple = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
    return {"type": "array", "items": triple, "default": [], **doc}

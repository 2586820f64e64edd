"""Settings checked, read from plain JSON data and written back to it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from itertools import combinations
from math import dist
from typing import Any, TypeVar

from ..errors import BadRecipe, Where
from .fields import APART_MM, LEAST_POINTS, REACH_MM, decided

T = TypeVar("T")

_LONGEST = 1e300  # whole numbers in JSON may be longer than any float
_SHOWN = 60  # characters of a wrong value that a message repeats


def check_settings(value: Any, key: str = "recipe") -> None:
    """Check every field of a section, and of the sections in it.

    Raises
    ------
    BadRecipe : a value of the wrong type or out of range; `where.key` names it.
    """
    for field in dataclasses.fields(value):
        _check_value(getattr(value, field.name), field.metadata, f"{key}.{field.name}")


def shown(value: Any) -> str:
    """A wrong value for a message: short, and in characters that every file and terminal takes."""
    told = ascii(value)
    return told if len(told) <= _SHOWN else f"{told[:_SHOWN]}..."


def _refuse(key: str, found: Any, wanted: str) -> BadRecipe:
    where = Where("recipe", key=key)
    return BadRecipe(f"{key} is {shown(found)}; it must be {wanted}.", where, f"Give {wanted}.")


def _check_value(value: Any, meta: Mapping[str, Any], key: str) -> None:
    kind = meta["kind"]
    if value is None and meta.get("optional", False):
        return
    automatic = ", or null for automatic" if meta.get("optional", False) else ""
    if kind in ("number", "integer"):
        _check_number(value, meta, key, automatic)
    elif kind == "choice" and not (isinstance(value, str) and value in meta["options"]):
        raise _refuse(key, value, "one of " + ", ".join(meta["options"]) + automatic)
    elif kind == "switch" and not isinstance(value, bool):
        raise _refuse(key, value, "true or false")
    elif kind == "text":
        if not isinstance(value, str):
            raise _refuse(key, value, "text")
        if not value.isascii() and any(0xD800 <= ord(c) <= 0xDFFF for c in value):
            raise _refuse(key, value, "text of whole characters (this has half a surrogate pair)")
    elif kind in ("section", "given"):
        check_settings(value, key)
    elif kind == "sections":
        for index, item in enumerate(value):
            check_settings(item, f"{key}[{index}]")
    elif kind == "points":
        _check_points(value, key)


def _check_number(value: Any, meta: Mapping[str, Any], key: str, automatic: str) -> None:
    whole = meta["kind"] == "integer"
    wanted = f"a {'whole ' if whole else ''}number from {meta['low']} to {meta['high']}"
    if meta["unit"] != "1":
        wanted += f" {meta['unit']}"
    # The range comes first: a number of four hundred digits is no float. NaN is in no range.
    good = isinstance(value, int | float) and not isinstance(value, bool)
    good = good and meta["low"] <= value <= meta["high"]
    if not good or (whole and not float(value).is_integer()):
        raise _refuse(key, value, wanted + automatic)


def _check_points(value: Sequence[Any], key: str) -> None:
    """Enough points, each three numbers within reach, no two of them the same."""
    for index, item in enumerate(value):
        numbers = len(item) == 3 and all(isinstance(c, int | float) and not isinstance(c, bool) for c in item)
        if not numbers or not all(abs(c) <= REACH_MM for c in item):
            raise _refuse(f"{key}[{index}]", item, f"three numbers from {-REACH_MM:g} to {REACH_MM:g} mm")
    if len(value) < LEAST_POINTS:
        raise _refuse(key, value, f"at least {LEAST_POINTS} points, or null for automatic")
    for (index, one), (other, two) in combinations(enumerate(value), 2):
        if dist(one, two) < APART_MM:
            wanted = f"{APART_MM:g} mm or more from every other point; point {index} lies there too"
            raise _refuse(f"{key}[{other}]", two, wanted)


def settings_from(cls: type[T], data: Any, key: str = "recipe") -> T:
    """Read a section from plain JSON data; missing keys take their defaults.

    Raises
    ------
    BadRecipe : an unknown key, a wrong type, or a value out of range.
    """
    if not isinstance(data, Mapping):
        raise _refuse(key, data, "an object with keys and values")
    known = {f.name: f for f in decided(cls)}
    unknown = sorted((name for name in data if name not in known), key=str)
    if unknown:
        raise BadRecipe(
            f"{key} has the unknown key {shown(unknown[0])}.",
            Where("recipe", key=f"{key}.{shown(unknown[0])[1:-1]}"),
            "Use one of: " + ", ".join(known) + ".",
        )
    values: dict[str, Any] = {}
    for name, item in data.items():
        values[name] = _read_value(item, known[name].metadata, f"{key}.{name}")
    made = cls(**values)
    check_settings(made, key)
    return made


def _read_value(item: Any, meta: Mapping[str, Any], path: str) -> Any:
    kind = meta["kind"]
    if item is None and meta.get("optional", False):
        return None
    if kind == "section":
        return settings_from(meta["class"], item, path)
    if kind in ("sections", "points") and not isinstance(item, list | tuple):
        raise _refuse(path, item, "a list" + (" or null for automatic" if kind == "points" else ""))
    if kind == "sections":
        return tuple(settings_from(meta["class"], part, f"{path}[{i}]") for i, part in enumerate(item))
    if kind == "points":
        return tuple(_point(p) for p in item)
    if kind == "integer" and isinstance(item, float) and item.is_integer():
        return int(item)
    if kind == "number":
        return _as_float(item)
    return item


def _point(item: Any) -> tuple[Any, ...]:
    return tuple(_as_float(c) for c in item) if isinstance(item, list | tuple) else (item,)


def _as_float(item: Any) -> Any:
    """Whole numbers as floats, so that a recipe read again is the same; everything else as it is."""
    whole = isinstance(item, int) and not isinstance(item, bool)
    return float(item) if whole and abs(item) < _LONGEST else item


def settings_to(value: Any) -> dict[str, Any]:
    """A section as plain JSON data."""
    out: dict[str, Any] = {}
    for field in decided(value):
        item, kind = getattr(value, field.name), field.metadata["kind"]
        if kind == "section":
            item = settings_to(item)
        elif kind == "sections":
            item = [settings_to(part) for part in item]
        elif kind == "points" and item is not None:
            item = [list(p) for p in item]
        out[field.name] = item
    return out

"""Settings checked, read from plain JSON data and written back to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from math import dist
from typing import Any, TypeGuard, TypeVar

from ..errors import BadRecipe, Where
from .fields import APART_MM, LEAST_POINTS, REACH_MM, decided, fields_of

T = TypeVar("T")

_LONGEST = 1e300  # whole numbers in JSON may be longer than any float
_SHOWN = 60  # characters of a wrong value that a message repeats


def check_settings(value: object, key: str = "recipe") -> None:
    """Check every field of a section, and of the sections in it.

    Raises
    ------
    BadRecipe : a value of the wrong type or out of range; `where.key` names it.
    """
    for field in fields_of(value):
        _check_value(getattr(value, field.name), field.metadata, f"{key}.{field.name}")


def quoted(value: object) -> str:
    """A wrong value for a message: short, and in characters that every file and terminal takes."""
    told = ascii(value)
    return told if len(told) <= _SHOWN else f"{told[:_SHOWN]}..."


def _refuse(key: str, found: object, wanted: str) -> BadRecipe:
    where = Where("recipe", key=key)
    return BadRecipe(f"{key} is {quoted(found)}; it must be {wanted}.", where, f"Give {wanted}.")


def _check_value(value: object, meta: Mapping[str, Any], key: str) -> None:
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
        for index, item in enumerate(_items(value, key)):
            check_settings(item, f"{key}[{index}]")
    elif kind == "points":
        _check_points(_items(value, key), key)


def _items(value: object, key: str, wanted: str = "a list") -> Sequence[object]:
    """The items of a list."""
    if not isinstance(value, list | tuple):
        raise _refuse(key, value, wanted)
    return value


def _check_number(value: object, meta: Mapping[str, Any], key: str, automatic: str) -> None:
    whole = meta["kind"] == "integer"
    wanted = f"a {'whole ' if whole else ''}number from {meta['low']} to {meta['high']}"
    if meta["unit"] != "1":
        wanted += f" {meta['unit']}"
    # The range comes first: a number of four hundred digits is no float. NaN is in no range.
    if (
        not _is_number(value)
        or not meta["low"] <= value <= meta["high"]
        or (whole and not float(value).is_integer())
    ):
        raise _refuse(key, value, wanted + automatic)


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _check_points(value: Sequence[object], key: str) -> None:
    """Enough points, each three numbers within reach, no two of them the same."""
    places = []
    for index, item in enumerate(value):
        wanted = f"three numbers from {-REACH_MM:g} to {REACH_MM:g} mm"
        numbers = [c for c in _items(item, f"{key}[{index}]", wanted) if _is_number(c) and abs(c) <= REACH_MM]
        if len(numbers) != 3 or len(_items(item, key)) != 3:
            raise _refuse(f"{key}[{index}]", item, wanted)
        places.append(numbers)
    if len(value) < LEAST_POINTS:
        raise _refuse(key, value, f"at least {LEAST_POINTS} points, or null for automatic")
    for (index, one), (other, two) in combinations(enumerate(places), 2):
        if dist(one, two) < APART_MM:
            wanted = f"{APART_MM:g} mm or more from every other point; point {index} lies there too"
            raise _refuse(f"{key}[{other}]", value[other], wanted)


def settings_from(cls: type[T], data: object, key: str = "recipe") -> T:
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
            f"{key} has the unknown key {quoted(unknown[0])}.",
            Where("recipe", key=f"{key}.{quoted(unknown[0])[1:-1]}"),
            "Use one of: " + ", ".join(known) + ".",
        )
    values: dict[str, object] = {}
    for name, item in data.items():
        values[name] = _read_value(item, known[name].metadata, f"{key}.{name}")
    made = cls(**values)
    check_settings(made, key)
    return made


def _read_value(item: object, meta: Mapping[str, Any], path: str) -> object:
    kind = meta["kind"]
    if item is None and meta.get("optional", False):
        return None
    if kind == "section":
        return settings_from(meta["class"], item, path)
    if kind == "sections":
        parts = _items(item, path)
        return tuple(settings_from(meta["class"], part, f"{path}[{i}]") for i, part in enumerate(parts))
    if kind == "points":
        return tuple(_point(p) for p in _items(item, path, "a list or null for automatic"))
    if kind == "integer" and isinstance(item, float) and item.is_integer():
        return int(item)
    if kind == "number":
        return _as_float(item)
    return item


def _point(item: object) -> tuple[object, ...]:
    return tuple(_as_float(c) for c in item) if isinstance(item, list | tuple) else (item,)


def _as_float(item: object) -> object:
    """Whole numbers as floats, so that a recipe read again is the same; everything else as it is."""
    if isinstance(item, int) and not isinstance(item, bool) and abs(item) < _LONGEST:
        return float(item)
    return item


def settings_to(value: object) -> dict[str, object]:
    """A section as plain JSON data."""
    out: dict[str, object] = {}
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

"""What a maker gets, as flat values that can be compared: numbers, flags, words and digests of shapes."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from sealwright.mesh import TriMesh
from sealwright.solids.boolean import Solid

Flat = dict[str, Any]


def flat(output: Any) -> Flat:
    """Path -> value of everything in an output; settings in it are the recipe's echo and are left out."""
    return dict(_walked(output, ""))


def _walked(item: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(item, Solid):
        item = item.mesh
    if isinstance(item, TriMesh):
        yield path, _digest(item.vertices, item.faces)
    elif isinstance(item, np.ndarray):
        yield path, _digest(item)
    elif isinstance(item, bytes):
        yield path, hashlib.sha256(item).hexdigest()
    elif dataclasses.is_dataclass(item):
        fields = dataclasses.fields(item)
        if not any("kind" in field.metadata for field in fields):  # else a section of the recipe
            for field in fields:
                yield from _walked(getattr(item, field.name), f"{path}.{field.name}")
    elif isinstance(item, Mapping):
        for key, value in item.items():
            if key != "assumed":  # the report's echo of what a prediction was told
                yield from _walked(value, f"{path}.{key}")
    elif isinstance(item, list | tuple):
        yield f"{path}.length", len(item)
        for index, value in enumerate(item):
            yield from _walked(value, f"{path}[{index}]")
    elif item is None or isinstance(item, str | int | float | np.generic):
        yield path, item


def _digest(*arrays: Any) -> str:
    """Of the bytes of arrays."""
    summed = hashlib.sha256()
    for array in arrays:
        summed.update(np.ascontiguousarray(array).tobytes())
    return summed.hexdigest()


def changes(before: Flat, after: Flat, value: Any) -> list[str]:
    """Paths whose value differs, without those that only repeat the changed recipe value."""
    found = [path for path in before.keys() | after.keys() if before.get(path) != after.get(path)]
    return sorted(path for path in found if not _repeats(after.get(path), value))


def _repeats(told: Any, value: Any) -> bool:
    if isinstance(value, bool) or value is None:
        return False
    if isinstance(told, str):
        word = f"{value:g}" if isinstance(value, int | float) else str(value)
        return word in told.split() or told == word or f"{word} mm" in told
    number = isinstance(told, int | float | np.generic) and not isinstance(told, bool)
    return number and isinstance(value, int | float) and bool(np.isclose(float(told), float(value)))

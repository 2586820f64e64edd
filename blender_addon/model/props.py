# SPDX-License-Identifier: GPL-3.0-or-later
"""Recipe values as Blender properties, generated from the core's settings.

``recipe_fields.json`` is written from the settings classes when the extension is built, so that registering
needs no compiled library. Values are plain numbers in the unit said in the label (never Blender lengths:
their meaning would change with the scene scale).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from .labels import label_of, titled

FIELDS = Path(__file__).parents[1] / "recipe_fields.json"
AUTO = "AUTOMATIC"  # the choice that stands for null
Fields = list[dict[str, Any]]


@cache
def read_fields() -> Fields:
    """The fields of the recipe, outermost section; read once, as every redraw asks. Not to be changed."""
    fields: Fields = json.loads(FIELDS.read_text(encoding="utf-8"))
    return fields


def property_of(
    field: Mapping[str, Any], path: str, update: Callable[[Any, Any], None], made: list[type]
) -> Any:
    """The Blender property of one field; classes for sections are appended to ``made``, inner ones first."""
    kind = field["kind"]
    common = {"name": label_of(field), "description": field["doc"].rstrip(".")}
    if kind in ("section", "sections"):
        inner = group_of(f"{path}_{field['name']}", field["fields"], update, made)
        return PointerProperty(type=inner) if kind == "section" else CollectionProperty(type=inner)
    optional = bool(field.get("optional", False))
    common |= {"default": field["usual"] if "usual" in field else field["default"], "update": update}
    if kind == "number":
        step = 10 if field["high"] - field["low"] < 20 else 50
        return FloatProperty(**common, min=field["low"], max=field["high"], precision=2, step=step)
    if kind == "integer":
        return IntProperty(**common, min=field["low"], max=field["high"])
    if kind == "choice":
        first = [(AUTO, "Automatic", "Chosen by the program")] if optional else []
        items = first + [(o, name, "") for o, name in zip(field["options"], spoken(field), strict=True)]
        return EnumProperty(**common | {"default": field["default"] or AUTO}, items=items)
    return BoolProperty(**common) if kind == "switch" else StringProperty(**common)


def spoken(field: Mapping[str, Any]) -> list[str]:
    """The options of a choice as people call them."""
    return [titled(name) for name in field["names"]] or [
        titled(option.replace("_", " ").replace("-", " ")) for option in field["options"]
    ]


def auto_name(field: Mapping[str, Any]) -> str:
    """The switch "Automatic" beside an optional number; empty for every other field."""
    return f"{field['name']}_auto" if field["kind"] == "number" and field.get("optional", False) else ""


def group_of(
    path: str, fields: Fields, update: Callable[[Any, Any], None], made: list[type]
) -> type[bpy.types.PropertyGroup]:
    """The property group of one section, named by its place in the recipe.

    Point lists are not properties: they live in objects.
    """
    switch: Callable[..., Any] = BoolProperty
    notes: dict[str, Any] = {
        f["name"]: property_of(f, path, update, made) for f in fields if f["kind"] != "points"
    }
    for field in fields:
        if name := auto_name(field):
            said = f"{label_of(field)} chosen by the program. {field['doc']}".rstrip(".")
            notes[name] = switch(name="Automatic", description=said, default=True, update=update)
    body = {"__annotations__": notes, "__module__": __name__, "__doc__": f"The section {path}."}
    group = type(f"SEALWRIGHT_PG_{path}", (bpy.types.PropertyGroup,), body)
    made.append(group)
    return group


def recipe_classes(update: Callable[[Any, Any], None]) -> list[type]:
    """All property groups of the recipe in registering order; the last one is the recipe itself."""
    made: list[type] = []
    group_of("recipe", read_fields(), update, made)
    return made


def plain(value: float) -> float:
    """A float32 property as the decimal number that was typed: 0.1, not 0.10000000149."""
    return float(str(np.float32(value)))


def to_data(group: Any, fields: Fields | None = None) -> dict[str, Any]:
    """A property group as plain recipe data, for the core's ``recipe_from_json``."""
    out: dict[str, Any] = {}
    for field in read_fields() if fields is None else fields:
        name, kind = field["name"], field["kind"]
        if kind == "points":
            continue
        value = getattr(group, name)
        if (auto := auto_name(field)) and getattr(group, auto):
            value = None
        elif kind == "section":
            value = to_data(value, field["fields"])
        elif kind == "sections":
            value = [to_data(item, field["fields"]) for item in value]
        elif kind == "number":
            value = min(max(plain(value), field["low"]), field["high"])
        elif kind == "choice":
            value = None if value == AUTO else value
        out[name] = value
    return out


def from_data(group: Any, data: Mapping[str, Any], fields: Fields | None = None) -> None:
    """Write plain recipe data, checked by the core, into a property group; missing keys keep their values."""
    for field in read_fields() if fields is None else fields:
        name, kind = field["name"], field["kind"]
        if kind == "points" or name not in data:
            continue
        if kind == "section":
            from_data(getattr(group, name), data[name], field["fields"])
        elif kind == "sections":
            items = getattr(group, name)
            items.clear()
            for part in data[name]:
                from_data(items.add(), part, field["fields"])
        else:
            if auto := auto_name(field):
                setattr(group, auto, data[name] is None)
            if data[name] is not None or kind == "choice":
                setattr(group, name, AUTO if data[name] is None else data[name])


def defaults(fields: Fields | None = None) -> dict[str, Any]:
    """The recipe with every value at its default, as plain data."""
    rows = read_fields() if fields is None else fields
    return {
        f["name"]: defaults(f["fields"]) if f["kind"] == "section" else f["default"]
        for f in rows
        if f["kind"] != "points"
    }


def walk(fields: Fields, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every field with its dotted key."""
    for field in fields:
        key = f"{path}{field['name']}"
        yield key, field
        if field["kind"] == "section":
            yield from walk(field["fields"], key + ".")

"""The JSON schema of settings."""

from __future__ import annotations

import dataclasses

from .fields import LEAST_POINTS, REACH_MM, decided


def schema_of(cls: type) -> dict[str, object]:
    """The JSON schema (draft 2020-12) of a section."""
    return {"type": "object", "additionalProperties": False, "properties": properties_of(cls)}


def properties_of(cls: type) -> dict[str, object]:
    """The schemas of the fields of a section, by name."""
    return {field.name: _schema_value(field) for field in decided(cls)}


def _schema_value(field: dataclasses.Field[object]) -> dict[str, object]:
    meta, kind = field.metadata, field.metadata["kind"]
    doc = {"description": meta["doc"]}
    optional = bool(meta.get("optional", False))
    if kind in ("number", "integer"):
        if meta["unit"] != "1":
            doc["description"] += f" Unit: {meta['unit']}."
        limits = {"minimum": meta["low"], "maximum": meta["high"]}
        return {"type": [kind, "null"] if optional else kind, **limits, "default": field.default, **doc}
    if kind == "choice":
        return {"enum": [*meta["options"], *([None] if optional else [])], "default": field.default, **doc}
    if kind == "switch":
        return {"type": "boolean", "default": field.default, **doc}
    if kind == "text":
        return {"type": "string", "default": field.default, **doc}
    if kind == "section":
        return {**schema_of(meta["class"]), **doc}
    if kind == "sections":
        return {"type": "array", "items": schema_of(meta["class"]), **doc}
    number = {"type": "number", "minimum": -REACH_MM, "maximum": REACH_MM}
    triple = {"type": "array", "items": number, "minItems": 3, "maxItems": 3}
    several = {"items": triple, "minItems": LEAST_POINTS, "uniqueItems": True}
    return {"type": ["array", "null"], **several, "default": None, **doc}

"""The JSON schema (draft 2020-12) of fit-report.json, made from the glossary."""

from __future__ import annotations

from typing import Any

from ..recipe import recipe_schema
from .keys import Key, glossary

_JSON = {"text": "string", "number": "number", "integer": "integer", "flag": "boolean"}
Node = dict[str, Any]


def report_schema() -> dict[str, Any]:
    """The schema of `fit_report.fit_report`; every key carries unit, limit and source in its description."""
    tree: Node = {"children": {}}
    for key in glossary().values():
        node = tree
        for step in key.path.split("."):
            name = step.rstrip("[]")
            node = node["children"].setdefault(name, {"children": {}})
        depth = key.path.rsplit(".", 1)[-1].count("[]")
        if "key" not in node or depth > node["depth"]:
            node["key"], node["depth"] = key, depth
        node["nullable_list"] = node.get("nullable_list", False) or key.type == "list"
    schema = _object(tree)
    schema["properties"]["recipe"] = {**recipe_schema(), "description": "Copy of the recipe."}
    schema["properties"]["recipe"].pop("$schema")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Sealwright fit report",
        **schema,
    }


def _object(node: Node) -> dict[str, Any]:
    """Schema of an object from its children; ``*`` stands for any name."""
    children = dict(node["children"])
    any_name = children.pop("*", None)
    schema: dict[str, Any] = {
        "type": "object",
        "properties": {name: _value(child) for name, child in children.items()},
        "required": [name for name, child in children.items() if not child["key"].optional],
        "additionalProperties": _value(any_name) if any_name else False,
    }
    return schema


def _value(node: Node) -> dict[str, Any]:
    key: Key = node["key"]
    inner: dict[str, Any]
    if key.type == "section":
        inner = _object(node)
    elif key.type == "recipe":
        inner = {"type": "object"}
    else:
        inner = {"type": _JSON[key.type]}
    if key.nullable and key.type != "list":
        inner["type"] = [inner["type"], "null"]
    for _ in range(node["depth"]):
        inner = {"type": "array", "items": inner}
    if node["nullable_list"]:
        inner["type"] = ["array", "null"]
    inner["description"] = described(key)
    return inner


def described(key: Key) -> str:
    """Meaning, unit, limit and source of a key in one line."""
    words = [key.meaning]
    if key.unit not in ("-", "1", ""):
        words.append(f"Unit: {key.unit}.")
    if key.limit:
        words.append(f"Limit: {key.limit}.")
    if key.source:
        words.append(f"Source: {key.source}.")
    return " ".join(words)

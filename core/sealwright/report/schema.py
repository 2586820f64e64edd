"""The JSON schema (draft 2020-12) of fit-report.json, made from the glossary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..recipe import recipe_schema
from .keys import Key, glossary

_JSON = {"text": "string", "number": "number", "integer": "integer", "flag": "boolean"}
Schema = dict[str, object]


@dataclass
class _Node:
    """One name in the tree of keys, as it is built from the rows of the glossary.

    Attributes
    ----------
    children : by name; ``*`` stands for any name.
    key : its row; None while only rows below it were seen.
    depth : lists within lists that its values lie in.
    nullable_list : the outermost list may be null.
    """

    children: dict[str, _Node] = field(default_factory=dict)
    key: Key | None = None
    depth: int = 0
    nullable_list: bool = False

    def row(self) -> Key:
        """Its row of the glossary.

        Raises
        ------
        ValueError : the glossary has rows below it and none for itself.
        """
        if self.key is None:
            raise ValueError(f"The glossary has no row above {', '.join(self.children)}.")
        return self.key


def report_schema() -> Schema:
    """The schema of `fit_report.fit_report`; every key carries unit, limit and source in its description."""
    tree = _Node()
    for key in glossary().values():
        node = tree
        for step in key.path.split("."):
            name = step.rstrip("[]")
            node = node.children.setdefault(name, _Node())
        depth = key.path.rsplit(".", 1)[-1].count("[]")
        if node.key is None or depth > node.depth:
            node.key, node.depth = key, depth
        node.nullable_list = node.nullable_list or key.type == "list"
    recipe = {key: value for key, value in recipe_schema().items() if key != "$schema"}
    schema = _object(tree, {"recipe": {**recipe, "description": "Copy of the recipe."}})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Sealwright fit report",
        **schema,
    }


def _object(node: _Node, known: Mapping[str, Schema] | None = None) -> Schema:
    """Schema of an object from its children; ``known`` holds those that are described elsewhere."""
    children = dict(node.children)
    any_name = children.pop("*", None)
    made = {name: _value(child) for name, child in children.items()}
    return {
        "type": "object",
        "properties": {**made, **(known or {})},
        "required": [name for name, child in children.items() if not child.row().optional],
        "additionalProperties": _value(any_name) if any_name else False,
    }


def _value(node: _Node) -> Schema:
    key = node.row()
    inner: Schema
    if key.type == "section":
        inner = _object(node)
    elif key.type == "recipe":
        inner = {"type": "object"}
    else:
        inner = {"type": _JSON[key.type]}
    if key.nullable and key.type != "list":
        inner["type"] = [inner["type"], "null"]
    for _ in range(node.depth):
        inner = {"type": "array", "items": inner}
    if node.nullable_list:
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

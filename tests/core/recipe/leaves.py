"""The leaves of the recipe, generated from its settings, and another valid value for each."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sealwright.recipe import Recipe
from sealwright.settings import decided

_STEP = 0.3  # of the way to the upper end of the range, else to the lower


@dataclass(frozen=True)
class Leaf:
    """One value of the recipe.

    Attributes
    ----------
    key : dotted; ``ports[]`` is the list of ports.
    field : with default, range and options.
    """

    key: str
    field: dataclasses.Field

    def another(self) -> Any:
        """A valid value other than the default."""
        meta, default = self.field.metadata, self.field.default
        kind = meta["kind"]
        if kind == "switch":
            return not default
        if kind == "choice":
            return next(option for option in meta["options"] if option != default)
        if kind in ("number", "integer"):
            if default is None:
                return meta["usual"]
            end = meta["high"] if default < meta["high"] else meta["low"]
            value = default + _STEP * (end - default)
            return round(value) if kind == "integer" else round(value, 3)
        if kind == "text":
            return "Another"
        raise LookupError(f"{self.key}: give a value in contexts.py")


def leaves(cls: type = Recipe, key: str = "") -> Iterator[Leaf]:
    """Every leaf of a section, sections opened."""
    for field in decided(cls):
        name, kind = f"{key}{field.name}", field.metadata["kind"]
        if kind == "section":
            yield from leaves(field.metadata["class"], f"{name}.")
        elif kind == "sections":
            yield from leaves(field.metadata["class"], f"{name}[].")
        else:
            yield Leaf(name, field)


def with_leaf(data: dict[str, Any], key: str, value: Any) -> dict[str, Any]:
    """Recipe data with one leaf set; in lists of the first item."""
    head, _, tail = key.partition(".")
    if head.endswith("[]"):
        name = head[:-2]
        items = list(data.get(name) or [{}])
        return {**data, name: [with_leaf(items[0], tail, value), *items[1:]]}
    if tail:
        return {**data, head: with_leaf(data.get(head, {}), tail, value)}
    return {**data, head: value}

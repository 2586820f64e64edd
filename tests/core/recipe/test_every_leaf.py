"""Every leaf of the recipe changes something the maker gets; a leaf that changes nothing must not be there.

The leaves come from the settings themselves. `contexts` says where each counts: register a new leaf there.
"""

from __future__ import annotations

import json
from functools import lru_cache

import pytest
from sealwright.errors import DesignError
from sealwright.hardware.options import PORT_KINDS
from sealwright.recipe import recipe_from_json

from .contexts import CONTEXTS, Context, context_of
from .leaves import Leaf, leaves, with_leaf
from .outputs import Flat, changes, flat

pytestmark = pytest.mark.heavy

LEAVES = list(leaves())


def recipe_data(context: Context) -> dict:
    """Recipe data with the values that make a leaf count."""
    data: dict = {}
    for key, value in context.base.items():
        data = with_leaf(data, key, value)
    return data


@lru_cache(maxsize=32)
def output(probe, text: str) -> Flat:
    """The flat output of a probe for a recipe's JSON text, each once."""
    return flat(probe(recipe_from_json(text)))


@pytest.mark.parametrize("leaf", LEAVES, ids=lambda leaf: leaf.key)
def test_leaf_changes_an_output(leaf: Leaf) -> None:
    context = context_of(leaf.key)
    value = leaf.another() if context.value is None else context.value
    base = recipe_data(context)
    changed = with_leaf(base, leaf.key, value)
    before = output(context.probe, json.dumps(base))
    assert before
    if context.refused:
        with pytest.raises(DesignError) as refusal:
            output(context.probe, json.dumps(changed))
        assert refusal.value.code == context.refused
        return
    after = output(context.probe, json.dumps(changed))
    assert recipe_from_json(changed) != recipe_from_json(base), f"{value} is no other value"
    assert changes(before, after, None if context.bounds else value), (
        f"{leaf.key} = {value} changes nothing: remove it from the recipe"
    )


@pytest.mark.parametrize("kind", [kind for kind in PORT_KINDS if kind != "printed"])
def test_every_kind_of_connection_is_another_port(kind: str) -> None:
    probe = CONTEXTS["ports[].connection"].probe
    key, base = "ports[].connection.kind", {"cone": {"ports[].connection.bore_mm": 16.0}}.get(kind, {})
    data: dict = {}
    for name, value in base.items():
        data = with_leaf(data, name, value)
    made = output(probe, json.dumps(with_leaf(data, key, kind)))
    assert changes(output(probe, "{}"), made, kind)


def test_every_context_is_of_a_leaf_or_a_section() -> None:
    """A context whose leaf is gone is gone too."""
    keys = [leaf.key for leaf in LEAVES]
    stale = [name for name in CONTEXTS if not any(_begins(key, name) for key in keys)]
    assert stale == []


def _begins(key: str, name: str) -> bool:
    return key == name or key.startswith((f"{name}.", f"{name}[]"))

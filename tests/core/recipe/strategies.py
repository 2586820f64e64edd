"""Random valid recipes, drawn from the settings themselves."""

from __future__ import annotations

import dataclasses
from typing import Any

from hypothesis import strategies as st
from sealwright.recipe import Recipe
from sealwright.settings import decided


def section_of(cls: type) -> st.SearchStrategy[Any]:
    """Valid sections of a settings class."""
    return st.builds(cls, **{field.name: _value(field) for field in decided(cls)})


def _value(field: dataclasses.Field) -> st.SearchStrategy[Any]:
    meta, kind = field.metadata, field.metadata["kind"]
    if kind == "section":
        return section_of(meta["class"])
    if kind == "sections":
        return st.lists(section_of(meta["class"]), min_size=1, max_size=2).map(tuple)
    if kind == "number":
        made: st.SearchStrategy[Any] = st.floats(meta["low"], meta["high"])
    elif kind == "integer":
        made = st.integers(meta["low"], meta["high"])
    elif kind == "choice":
        made = st.sampled_from(meta["options"])
    elif kind == "switch":
        made = st.booleans()
    elif kind == "text":
        made = st.text(max_size=40)
    else:
        places = st.tuples(*[st.integers(-300, 300).map(float)] * 3)
        made = st.lists(places, min_size=4, max_size=6, unique=True).map(tuple)
    return st.none() | made if meta.get("optional") else made


RECIPES = section_of(Recipe)

JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=8),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.text(max_size=6) | st.sampled_from([field.name for field in dataclasses.fields(Recipe)]),
        inner,
        max_size=4,
    ),
    max_leaves=12,
)
"""JSON-like data of any shape, often under the recipe's own names; with NaN and lone surrogates."""

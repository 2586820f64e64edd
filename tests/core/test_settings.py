"""Settings: every value has unit, range and reason; they survive JSON; what is refused, and by what name."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from sealwright.errors import BadRecipe
from sealwright.recipe import Recipe
from sealwright.settings import (
    check_settings,
    choice,
    count,
    decided,
    optional_choice,
    optional_quantity,
    points,
    quantity,
    schema_of,
    section,
    sections,
    settings_from,
    settings_to,
    switch,
    text,
)

UNITS = {"1", "%", "mm", "mm2", "mm/s", "mm3/s", "deg", "N", "Pa", "kPa", "MPa", "g", "g/cm3", "um"}
UNITS |= {"s", "min", "h", "W", "K", "L/min", "mmHg h", "money/kg", "money/kWh"}


@dataclasses.dataclass(frozen=True)
class Inner:
    """A part."""

    size_mm: float = quantity(2.0, "mm", 1.0, 3.0, "Size of the part.")


@dataclasses.dataclass(frozen=True)
class Sample:
    """One field of every kind."""

    width_mm: float = quantity(5.0, "mm", 0.0, 10.0, "Width of it all.")
    share: float = quantity(0.5, "1", 0.0, 1.0, "Share of it.")
    teeth: int = count(4, 1, 9, "How many teeth.")
    kind: str = choice("a", ("a", "b"), "Which of two.")
    shown: bool = switch(True, "Whether it shows.")
    name: str = text("x", "What it is called.")
    inner: Inner = section(Inner, "One part.")
    parts: tuple[Inner, ...] = sections(Inner, (Inner(), Inner(1.5)), "Several parts.")
    line: tuple[tuple[float, float, float], ...] | None = points("A line.")
    bound_mm: float | None = optional_quantity("mm", 0.0, 1.0, 0.2, "A bound.")
    side: str | None = optional_choice(("left", "right"), "Which side.")


VALIDATOR = Draft202012Validator(schema_of(Sample))

GOOD = [
    {},
    {"width_mm": 0},
    {"width_mm": 10.0, "share": 1.0, "teeth": 9, "kind": "b", "shown": False, "name": ""},
    {"teeth": 3.0},
    {"inner": {"size_mm": 1.0}, "parts": []},
    {"parts": [{"size_mm": 2.5}, {}]},
    {"line": [[0, 1, 2.5], [3, 4, 5], [3, 4, 6], [-300, 4, 7]]},
    {"line": None, "bound_mm": None, "side": None},
    {"bound_mm": 0, "side": "left"},
]

# data, key that the refusal names
BAD = [
    ({"width": 5.0}, "recipe.width"),
    ({"width_mm": -0.01}, "recipe.width_mm"),
    ({"width_mm": 10.01}, "recipe.width_mm"),
    ({"width_mm": "5"}, "recipe.width_mm"),
    ({"width_mm": True}, "recipe.width_mm"),
    ({"width_mm": None}, "recipe.width_mm"),
    ({"teeth": 2.5}, "recipe.teeth"),
    ({"teeth": 0}, "recipe.teeth"),
    ({"kind": "c"}, "recipe.kind"),
    ({"kind": 1}, "recipe.kind"),
    ({"shown": 1}, "recipe.shown"),
    ({"name": 7}, "recipe.name"),
    ({"inner": 3}, "recipe.inner"),
    ({"inner": {"size_mm": 0.5}}, "recipe.inner.size_mm"),
    ({"inner": {"siz_mm": 2.0}}, "recipe.inner.siz_mm"),
    ({"parts": {}}, "recipe.parts"),
    ({"parts": [{}, {"size_mm": 9}]}, "recipe.parts[1].size_mm"),
    ({"line": 5}, "recipe.line"),
    ({"line": [[0, 1]]}, "recipe.line[0]"),
    ({"line": [[0, 1, 2], [0, 1, "x"]]}, "recipe.line[1]"),
    ({"line": [3]}, "recipe.line[0]"),
    ({"line": []}, "recipe.line"),
    ({"line": [[0, 1, 2], [3, 4, 5], [3, 4, 6]]}, "recipe.line"),
    ({"line": [[1, 2, 3]] * 4}, "recipe.line[1]"),
    ({"line": [[0, 1, 2], [3, 4, 5], [3, 4, 6], [1e299, 4, 7]]}, "recipe.line[3]"),
    ({"line": [[0, 1, 2], [3, 4, 5], [3, 4, 6], [True, 4, 7]]}, "recipe.line[3]"),
    ({"bound_mm": -1}, "recipe.bound_mm"),
    ({"bound_mm": "auto"}, "recipe.bound_mm"),
    ({"side": ""}, "recipe.side"),
    ({"side": "auto"}, "recipe.side"),
]


@pytest.mark.parametrize("data", GOOD)
def test_good_data_are_read_and_fit_the_schema(data: dict) -> None:
    made = settings_from(Sample, data)
    check_settings(made)
    assert not list(VALIDATOR.iter_errors(data))
    assert settings_from(Sample, settings_to(made)) == made
    assert not list(VALIDATOR.iter_errors(settings_to(made)))


@pytest.mark.parametrize(("data", "key"), BAD)
def test_bad_data_are_refused_by_name_and_by_the_schema(data: dict, key: str) -> None:
    with pytest.raises(BadRecipe) as refusal:
        settings_from(Sample, data)
    assert refusal.value.code == "bad-recipe"
    assert refusal.value.where.key == key
    assert refusal.value.fix.startswith(("Give", "Use"))
    assert list(VALIDATOR.iter_errors(data))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400])
def test_numbers_that_no_float_holds_are_refused(value: float) -> None:
    """JSON has no such numbers (RFC 8259), Python's reader takes them all the same."""
    for data in ({"width_mm": value}, {"teeth": value}, {"line": [[0.0, value, 1.0]]}):
        with pytest.raises(BadRecipe):
            settings_from(Sample, data)


def test_range_and_unit_are_in_the_message() -> None:
    with pytest.raises(BadRecipe, match=r"a number from 0\.0 to 10\.0 mm"):
        settings_from(Sample, {"width_mm": 11.0})
    with pytest.raises(BadRecipe, match="a whole number from 1 to 9"):
        settings_from(Sample, {"teeth": 10})


def test_known_keys_are_offered_for_an_unknown_one() -> None:
    with pytest.raises(BadRecipe) as refusal:
        settings_from(Inner, {"size": 2.0})
    assert "size_mm" in refusal.value.fix


@given(
    st.builds(
        Sample,
        width_mm=st.floats(0.0, 10.0),
        teeth=st.integers(1, 9),
        kind=st.sampled_from(["a", "b"]),
        name=st.text(),
        parts=st.lists(st.builds(Inner, size_mm=st.floats(1.0, 3.0)), max_size=3).map(tuple),
        line=st.none()
        | st.lists(
            st.tuples(*[st.integers(-300, 300).map(float)] * 3), min_size=4, max_size=8, unique=True
        ).map(tuple),
        bound_mm=st.none() | st.floats(0.0, 1.0),
        side=st.none() | st.sampled_from(["left", "right"]),
    )
)
def test_settings_survive_json(made: Sample) -> None:
    assert settings_from(Sample, json.loads(json.dumps(settings_to(made)))) == made


def fields_of(cls: type, key: str = "recipe") -> Iterator[tuple[str, dataclasses.Field]]:
    """Every field of the recipe, with sections opened."""
    for field in decided(cls):
        name = f"{key}.{field.name}"
        if field.metadata["kind"] in ("section", "sections"):
            yield from fields_of(field.metadata["class"], name)
        yield name, field


FIELDS = dict(fields_of(Recipe))


@pytest.mark.parametrize("key", FIELDS)
def test_every_value_of_the_recipe_explains_itself(key: str) -> None:
    field = FIELDS[key]
    meta = field.metadata
    doc = meta["doc"]
    assert len(doc.split()) >= 2
    assert doc[0].isupper()
    assert doc.endswith(".")
    if meta["kind"] in ("number", "integer"):
        assert meta["unit"] in UNITS
        assert meta["low"] < meta["high"]
        assert meta["low"] <= (meta["usual"] if meta.get("optional") else field.default) <= meta["high"]
        # Names carry the unit they are in.
        ending = {"mm": "_mm", "deg": "_deg", "N": "_n", "L/min": "_l_min"}.get(meta["unit"])
        assert ending is None or field.name.endswith(ending)
    if meta["kind"] == "choice":
        assert field.default in meta["options"] or (meta.get("optional") and field.default is None)
        assert len(meta["options"]) >= 2


def test_defaults_are_in_range_everywhere() -> None:
    check_settings(Recipe())

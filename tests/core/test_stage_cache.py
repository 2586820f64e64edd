"""A stage is kept by the arguments of the call that made it, and by nothing else."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sealwright.errors import BadRecipe
from sealwright.facepiece.contact_band import BandSettings
from sealwright.progress import run_to_end
from sealwright.stage_cache import StageCache, argument_key

CALLS: list[tuple] = []


def stage(*args, **kwargs):
    CALLS.append((args, kwargs))
    return len(CALLS)


def other_stage(*args):
    return ("other", *args)


def refusing(value: int) -> int:
    if value == 2:
        raise BadRecipe("No.", "recipe", "Change it.")
    return stage(value)


@dataclass(frozen=True, eq=False)
class Surface:
    """Stands for a mesh or a solid: it is itself only."""

    size: float


def fresh() -> StageCache:
    CALLS.clear()
    return StageCache()


def test_stage_is_computed_once_for_its_arguments() -> None:
    cache = fresh()
    assert [cache.call(stage, 2.4, "limit") for _ in range(3)] == [1, 1, 1]
    assert cache.call(stage, 2.0, "limit") == 2
    assert cache.call(other_stage, 2.0, "limit") == ("other", 2.0, "limit")  # another stage, same arguments
    assert cache.call(stage, 2.4, "limit") == 3  # only the last result of a stage is kept
    assert cache.call(stage, 2.4, limit="limit") == 4


def test_copies_of_a_stage_are_kept_beside_each_other() -> None:
    cache = fresh()
    assert [cache.call_as(side, stage, side) for side in ("left", "right", "left")] == [1, 2, 1]


def in_steps(value: int):
    yield "half"
    yield "all"
    return stage(value)


def test_stage_of_steps_is_gone_through_once() -> None:
    cache = fresh()
    said: list[str] = []
    assert run_to_end(cache.steps(in_steps, 5), said.append) == 1 and said == ["half", "all"]
    assert run_to_end(cache.steps(in_steps, 5), said.append) == 1 and len(said) == 2
    assert run_to_end(cache.steps(in_steps, 6), said.append) == 2 and len(said) == 4
    stopped = cache.steps(in_steps, 7)
    next(stopped)
    stopped.close()  # a job that is stopped leaves nothing
    assert run_to_end(cache.steps(in_steps, 6)) == 2


def test_refused_stage_is_not_kept() -> None:
    cache = fresh()
    assert cache.call(refusing, 1) == 1
    with pytest.raises(BadRecipe):
        cache.call(refusing, 2)
    assert cache.call(refusing, 1) == 1
    with pytest.raises(BadRecipe):
        cache.call(refusing, 2)


def test_an_array_counts_by_its_content_also_when_changed_in_place() -> None:
    cache, grid = fresh(), np.arange(6.0).reshape(2, 3)
    assert cache.call(stage, grid) == cache.call(stage, grid.copy()) == 1
    grid[0, 0] = 1e-12
    assert cache.call(stage, grid) == 2
    assert cache.call(stage, grid.reshape(3, 2)) == 3
    assert cache.call(stage, grid.astype(np.float32)) == 4


def test_settings_count_by_value_and_surfaces_by_being_the_same() -> None:
    cache, surface = fresh(), Surface(1.0)
    assert cache.call(stage, BandSettings(), surface) == cache.call(stage, BandSettings(), surface) == 1
    assert cache.call(stage, replace(BandSettings(), width_mm=14.0), surface) == 2
    assert cache.call(stage, replace(BandSettings(), width_mm=14.0), Surface(1.0)) == 3


def test_what_could_use_more_than_its_arguments_is_no_stage() -> None:
    cache, hidden = fresh(), 3

    def inner() -> int:
        return hidden

    for function in (inner, lambda: hidden, partial(stage, 1), Surface(1.0).__str__):
        with pytest.raises(TypeError, match="is no stage"):
            cache.call(function)


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.floats(-2, 2) | st.text(max_size=2),
    lambda inner: st.tuples(inner, inner) | st.lists(inner, max_size=2)
    | st.dictionaries(st.text(max_size=1), inner, max_size=2),
    max_leaves=6,
)  # fmt: skip


@given(VALUES, VALUES)
def test_keys_are_equal_just_where_the_arguments_are(one: object, two: object) -> None:
    """Python's own text of a value tells types apart: 1, 1.0 and True are three arguments, as for a stage."""
    assert (argument_key(one) == argument_key(two)) == (repr(one) == repr(two))

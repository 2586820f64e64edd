"""Results of stages, kept by the arguments of the very call that made them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import ParamSpec, TypeVar

import numpy as np

P = ParamSpec("P")
T = TypeVar("T")
S = TypeVar("S")


@dataclass(frozen=True, eq=False)
class _Same:
    """A thing that equals itself only; held, so that no other thing gets its place in memory."""

    thing: object

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.thing is other.thing

    __hash__ = None  # type: ignore[assignment]


def argument_key(value: object) -> object:
    """What an argument of a stage is told apart by; keys are compared with ``==``.

    Numbers, texts, arrays, tuples, lists, mappings, and dataclasses that compare by value count by their
    content; all other things (meshes, solids: dataclasses with ``eq=False``) by being the same thing.
    An array's content is its SHA-256, so that arrays are not kept alive and changing one in place is noticed.
    """
    if value is None or isinstance(value, (str, bytes, bool, int, float, np.generic)):
        return type(value), repr(value)  # tells 0.0 from -0.0, and finds a NaN equal to itself
    if isinstance(value, np.ndarray):
        digest = hashlib.sha256(np.ascontiguousarray(value).tobytes()).digest()
        return "array", value.dtype.str, value.shape, digest
    if isinstance(value, (tuple, list)):
        return type(value), tuple(argument_key(item) for item in value)
    if isinstance(value, Mapping):
        return "mapping", tuple((argument_key(name), argument_key(item)) for name, item in value.items())
    if is_dataclass(value) and not isinstance(value, type) and type(value).__eq__ is not object.__eq__:
        return type(value), tuple(argument_key(getattr(value, part.name)) for part in fields(value))
    return _Same(value)


def stage_name(function: Callable[..., object]) -> str:
    """The name a stage is kept by.

    Raises
    ------
    TypeError : a lambda, a partial, a bound method or a function within another: it could use what its
        arguments do not say.
    """
    name: str = getattr(function, "__qualname__", "")
    if not name or "<" in name or hasattr(function, "__self__"):
        raise TypeError(f"{function!r} is no stage: give a function of a module, or a class.")
    return f"{function.__module__}.{name}"


@dataclass
class StageCache:
    """The last result of each stage with the key of its arguments.

    A later run with the same arguments takes the kept result, so that editing one value repeats only the
    stages behind it. The key is made from the call itself: nothing can be computed from what is not in it.
    """

    kept: dict[str, tuple[object, object]] = field(default_factory=dict)

    def call(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """``function(*args, **kwargs)``, computed only when an argument changed since its last call."""
        return self._call("", function, args, kwargs)

    def call_as(self, copy: str, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """As `call`, for a stage that is run several times: one result is kept for each ``copy``."""
        return self._call(copy, function, args, kwargs)

    def steps(
        self, job: Callable[P, Generator[S, None, T]], *args: P.args, **kwargs: P.kwargs
    ) -> Generator[S, None, T]:
        """As `call`, for a stage that is a job of steps."""
        stage, key = f"{stage_name(job)} ", (argument_key(args), argument_key(kwargs))
        known = self.kept.get(stage)
        if known is not None and known[0] == key:
            return known[1]  # type: ignore[return-value]
        result = yield from job(*args, **kwargs)
        self.kept[stage] = (key, result)
        return result

    def _call(
        self, copy: str, function: Callable[..., T], args: tuple[object, ...], kwargs: Mapping[str, object]
    ) -> T:
        stage, key = f"{stage_name(function)} {copy}", (argument_key(args), argument_key(kwargs))
        known = self.kept.get(stage)
        if known is not None and known[0] == key:
            return known[1]  # type: ignore[return-value]
        result = function(*args, **kwargs)
        self.kept[stage] = (key, result)
        return result

"""What is weak in each model, as data: read from ``weaknesses.toml`` beside this file."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal

Model = Literal["contact", "prediction", "comfort", "second_pose"]


def weaknesses(model: Model) -> tuple[str, ...]:
    """The weak points of a model, in the order they are told."""
    return _all()[model]


@cache
def _all() -> dict[str, tuple[str, ...]]:
    with (Path(__file__).parent / "weaknesses.toml").open("rb") as stream:
        return {name: tuple(entries) for name, entries in tomllib.load(stream).items()}

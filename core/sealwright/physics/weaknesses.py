"""What each model stands on and where it is weak, as data: read from the two TOML files beside this one."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal

Model = Literal["contact", "prediction", "comfort", "second_pose"]
Sum = Literal["resistance", "rebreathing", "prediction"]


def weaknesses(model: Model) -> tuple[str, ...]:
    """The weak points of a model, in the order they are told."""
    return _all("weaknesses")[model]


def assumptions(of: Sum) -> tuple[str, ...]:
    """What a sum of the report stands on, in the order it is told."""
    return _all("assumptions")[of]


@cache
def _all(file: str) -> dict[str, tuple[str, ...]]:
    with (Path(__file__).parent / f"{file}.toml").open("rb") as stream:
        return {name: tuple(entries) for name, entries in tomllib.load(stream).items()}

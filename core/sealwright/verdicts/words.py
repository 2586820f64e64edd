"""Words of the report that a maker need not know, and landmarks by what one sees on a face."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from ..limits import limit
from ..mesh import Floats

_MMHG_PER_KPA = 7.50062  # conventional millimetres of mercury (BIPM)


def words() -> tuple[tuple[str, str], ...]:
    """Words and what they mean, with the limits of the table in their place."""
    pressure = limit("skin_pressure").value
    numbers = {"skin_pressure": f"{pressure:g}", "skin_pressure_mmhg": f"{pressure * _MMHG_PER_KPA:.0f}"}
    return tuple((word, meaning.format(**numbers)) for word, meaning in _texts()["words"].items())


@cache
def _texts() -> dict[str, dict[str, str]]:
    with (Path(__file__).parent / "words.toml").open("rb") as stream:
        return tomllib.load(stream)


def seen_landmark(name: str) -> str:
    """A landmark by what one sees, with its name: ``left nostril wing (alare_left)``."""
    root, _, side = name.partition("_")
    seen = _texts()["seen"].get(root)
    if seen is None:
        return name.replace("_", " ")
    return f"{side} {seen} ({name})" if side else f"{seen} ({name})"


def side_on_bed(up: Floats | list[float]) -> str:
    """Which side of a part lies on the bed, for a direction (3,) in the face frame that points up."""
    x, y, z = (-float(c) for c in up)
    sides = {
        "front": -y,
        "back": y,
        "wearer's left side": x,
        "wearer's right side": -x,
        "top": z,
        "bottom": -z,
    }
    return max(sides, key=lambda name: sides[name]) + " down"

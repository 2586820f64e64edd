"""Which values of a recipe a search may change, how far, and in what steps."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..errors import BadRecipe, Where
from ..plain_data import number_of
from ..predict.straps import STARTING_N
from ..recipe import Recipe
from .search import DesignVariable


@dataclass(frozen=True)
class VariableRange:
    """How far a value may move from where it starts.

    Attributes
    ----------
    down, up : largest change either way, in the value's own unit; the field's own limits hold besides.
    step : values move by whole steps, so that recipes stay readable.
    """

    down: float
    up: float
    step: float


RANGES: dict[str, VariableRange] = {
    "seal_line.nose_drop_mm": VariableRange(5.0, 6.0, 0.5),
    "seal_line.mouth_margin_mm": VariableRange(5.0, 8.0, 0.5),
    "seal_line.chin_side_mm": VariableRange(6.0, 6.0, 0.5),
    "seal_line.under_chin_mm": VariableRange(5.0, 8.0, 0.5),
    "seal_line.chin_front_mm": VariableRange(3.0, 5.0, 0.5),
    "band.width_mm": VariableRange(4.0, 8.0, 0.5),
    "cushion.thickness_mm": VariableRange(4.0, 4.0, 0.5),
    "band.stand_off_mm": VariableRange(0.5, 1.5, 0.05),
    "straps.upper_share": VariableRange(0.12, 0.12, 0.01),
    "straps.lower_share": VariableRange(0.12, 0.12, 0.01),
    "straps.tension_n": VariableRange(2.0, 2.0, 0.1),
    "contact_surface.shaped": VariableRange(1.0, 1.0, 1.0),
}
"""What may be varied (common practice, no source); the tension only when asked for by name."""

LEFT_OUT = ("straps.tension_n",)
SHAPED = "contact_surface.shaped"
SWITCHES = (SHAPED,)


def usual_keys(recipe: Recipe, under_chin: bool) -> tuple[str, ...]:
    """Keys that have an effect on a recipe and are searched unless others are named.

    Parameters
    ----------
    recipe : the start.
    under_chin : whether its seal line passes under the chin.
    """
    skipped = {*LEFT_OUT, "seal_line.chin_front_mm" if under_chin else "seal_line.under_chin_mm"}
    if recipe.seal_line.control_points:
        # The maker's own line is kept as it is.
        skipped |= {key for key in RANGES if key.startswith("seal_line.")}
    if recipe.cushion.kind == "none":
        skipped.add("cushion.thickness_mm")
    else:
        skipped.add("band.stand_off_mm")  # a cushion takes it up
    if recipe.straps.lug.count < 4:
        # A single pair has a place of its own.
        skipped |= {"straps.upper_share", "straps.lower_share"}
    return tuple(key for key in RANGES if key not in skipped)


def design_variables_of(recipe: Recipe, keys: Sequence[str]) -> list[DesignVariable]:
    """Design variables for dotted recipe keys.

    Raises
    ------
    BadRecipe : a key that cannot be varied.
    """
    found = []
    for key in keys:
        if key not in RANGES:
            raise BadRecipe(
                f"{key!r} cannot be varied.",
                Where("search", key=key),
                "Use some of: " + ", ".join(RANGES) + ".",
            )
        meta, value, moves = _field(recipe, key).metadata, value_of(recipe, key), RANGES[key]
        if isinstance(value, bool):
            found.append(DesignVariable(key, "1", 0.0, 1.0, float(value)))
            continue
        start = STARTING_N if value is None else number_of(value)  # of these only the pull can be automatic
        low, high = max(start - moves.down, meta["low"]), min(start + moves.up, meta["high"])
        found.append(DesignVariable(key, meta["unit"], low, high, start))
    return found


def stepped(variables: Sequence[DesignVariable], values: Mapping[str, float]) -> dict[str, float]:
    """Values moved to whole steps from the start, inside their ranges; the start itself stays as it is.

    A switch is on or off.
    """
    out = {}
    for p in variables:
        step = RANGES[p.name].step
        value = p.start + round((values[p.name] - p.start) / step) * step
        inside = min(max(round(value, 6), p.low), p.high)
        out[p.name] = bool(inside) if p.name in SWITCHES else inside
    return out


def value_of(recipe: Recipe, key: str) -> float | str | bool | None:
    """The value of a recipe at a dotted key of two parts."""
    part, name = key.split(".")
    value: float | str | bool | None = getattr(getattr(recipe, part), name)
    return value


def _field(recipe: Recipe, key: str) -> dataclasses.Field[object]:
    part, name = key.split(".")
    return next(field for field in dataclasses.fields(getattr(recipe, part)) if field.name == name)

"""Refuse a number that is out of range, with the range and the unit in the message."""

from __future__ import annotations

import math

from .errors import BadRecipe, Where


def require_range(value: float, low: float, high: float, unit: str, key: str) -> float:
    """A number, checked against its closed range.

    Parameters
    ----------
    value : the number given.
    low, high : closed range.
    unit : its unit, "1" for none.
    key : what it is, as a dotted key.

    Raises
    ------
    BadRecipe : not a finite number, or out of range; the message names range and unit.
    """
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if number and math.isfinite(value) and low <= value <= high:
        return float(value)
    unit_text = "" if unit == "1" else f" {unit}"
    raise BadRecipe(
        f"{key} is {value!r}; it must be a number from {low:g} to {high:g}{unit_text}.",
        Where("physics", key=key),
        f"Give a number from {low:g} to {high:g}{unit_text}.",
    )

"""What JSON can hold, as types, and values taken from it by what they must be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np

Json: TypeAlias = "Mapping[str, Json] | Sequence[Json] | str | float | bool | None"
"""A value as `json.loads` gives it and `json.dumps` takes it; whole numbers are among the floats."""

JsonObject: TypeAlias = Mapping[str, Json]
"""A JSON object."""


def number_of(value: object) -> float:
    """A number, and no other value.

    Raises
    ------
    TypeError : it is something else.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        raise TypeError(f"{value!r:.60} is no number")
    return float(value)

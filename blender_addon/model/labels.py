# SPDX-License-Identifier: GPL-3.0-or-later
"""The words on the panels for the values of a recipe; without Blender, so that the docs can use it too."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def label_of(field: Mapping[str, Any]) -> str:
    """The words on the panel: the field's name without its unit, then the unit as it is written."""
    unit = field.get("unit", "1")
    words = field["name"].split("_")
    spoken = {"%": "percent"}.get(unit, unit).lower().split("/")
    while len(words) > 1 and words[-1] in spoken and words[-2] != "per":
        words.pop()
    text = " ".join(words).capitalize().replace("kwh", "kWh")
    return text if unit == "1" else f"{text} ({unit})"

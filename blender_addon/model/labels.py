# SPDX-License-Identifier: GPL-3.0-or-later
"""The words on the panels for the values of a recipe; without Blender, so that the docs can use it too."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SMALL = frozenset(
    [
        "a",
        "an",
        "and",
        "as",
        "at",
        "but",
        "by",
        "for",
        "from",
        "in",
        "of",
        "off",
        "on",
        "or",
        "per",
        "the",
        "to",
        "under",
        "up",
        "with",
        "x",
    ]
)
"""Words that Blender's labels write small, unless they come first or last."""
AS_WRITTEN = {"mm": "mm", "kg": "kg", "kwh": "kWh", "rd40": "Rd 40"}
"""Units and names of standards, which are never written otherwise."""


def titled(text: str) -> str:
    """A label as Blender writes its own: every word large but the small ones; capitals stay."""
    words = text.split()
    last = len(words) - 1

    def one(place: int, word: str) -> str:
        if word in AS_WRITTEN:
            return AS_WRITTEN[word]
        if word in SMALL and 0 < place < last:
            return word
        bracket = word[: len(word) - len(word.lstrip("("))]
        bare = word[len(bracket) :]
        return bracket + bare[:1].upper() + bare[1:]

    return " ".join(one(place, word) for place, word in enumerate(words))


def label_of(field: Mapping[str, Any]) -> str:
    """The words on the panel: the field's name without its unit, then the unit as it is written."""
    unit = field.get("unit", "1")
    words = field["name"].split("_")
    spoken = {"%": "percent"}.get(unit, unit).lower().replace("/", " ").split()
    while len(words) > 1 and words[-1] in spoken and words[-2] != "per":
        words.pop()
    text = titled(" ".join(words))
    return text if unit == "1" else f"{text} ({unit})"

# SPDX-License-Identifier: GPL-3.0-or-later
"""Lengths in what is said and drawn: millimetres, or inches where the maker reads those."""

from __future__ import annotations

import re

import bpy

from ..model.preferences import preferences_of

MM_PER_INCH = 25.4  # exact by definition since 1959
LENGTHS = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?:( to | x | and )(\d+(?:\.\d+)?))? mm(?![\w/])")


def in_inches() -> bool:
    """Whether the maker reads inches."""
    usual = preferences_of(bpy.context)
    return usual is not None and usual.lengths == "IN"


def shown(text: str) -> str:
    """A sentence with its lengths in the maker's unit."""
    return inches(text) if in_inches() else text


def inches(text: str) -> str:
    """A sentence with every "1.5 mm" and "2 to 3 mm" in inches, with two decimals more."""

    def turned(found: re.Match[str]) -> str:
        first, between, second = found.groups()
        return f"{_inch(first)}{between or ''}{_inch(second) if second else ''} in"

    return LENGTHS.sub(turned, text)


def _inch(number: str) -> str:
    decimals = len(number.partition(".")[2])
    return f"{float(number) / MM_PER_INCH:.{decimals + 2}f}"

# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences with numbers or names in them, in the maker's language."""

from __future__ import annotations

from typing import Any

import bpy


def told(template: str, **parts: Any) -> str:
    """A text as Blender's language has it, with its parts put in; the template itself where it has none.

    Parameters
    ----------
    template : as in `languages`, with {name} for each part.
    """
    said: Any = bpy.app.translations.pgettext_iface  # type: ignore[func-returns-value]
    text: str = said(template)
    return text.format(**parts)

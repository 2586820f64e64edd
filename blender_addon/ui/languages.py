# SPDX-License-Identifier: GPL-3.0-or-later
"""Other languages than English: one file of texts each in ``languages``, beside the list of all texts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import bpy

from ..model.preferences import PACKAGE

FOLDER = Path(__file__).parents[1] / "languages"
LOCALES = {"de": "de_DE"}
CONTEXTS = ("*", "Operator")  # buttons of operators are looked up in a context of their own


def start() -> None:
    """Tell Blender the texts of every language."""
    told: dict[str, Any] = {}
    for name, locale in LOCALES.items():
        texts = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        told[locale] = {(context, text): said for text, said in texts.items() for context in CONTEXTS}
    bpy.app.translations.register(PACKAGE, told)


def stop() -> None:
    """Take them back."""
    bpy.app.translations.unregister(PACKAGE)

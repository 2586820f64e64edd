# SPDX-License-Identifier: GPL-3.0-or-later
"""Whose mask it is: what report and print files of a wearer in the scene say."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from .convert import geometry_stamp
from .wearers import scan_of

if TYPE_CHECKING:
    import bpy

    from ..core.export.identity import Identity
    from ..core.recipe import Recipe
    from .wearers import SEALWRIGHT_PG_wearer


def wearer_identity(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, recipe: Recipe, options: str
) -> Identity:
    """The identity of a wearer's design; ``options`` is all else that it depends on.

    Raises
    ------
    BadRecipe : the wearer's name cannot be printed.
    """
    from ..core import __version__
    from ..core.export.identity import Identity, checked_label
    from ..core.jobs.source import recipe_hash, today

    scan = scan_of(context, wearer)
    assert scan is not None
    seen = scan.evaluated_get(context.evaluated_depsgraph_get())
    return Identity(
        checked_label(wearer.name),
        scan.name,
        _hash(geometry_stamp(seen.data)),  # type: ignore[arg-type]
        _hash(options),
        recipe_hash(recipe),
        __version__,
        today(),
    )


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()

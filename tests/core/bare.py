"""The bare rigid band: what tests of the contact geometry itself are made with."""

from __future__ import annotations

from dataclasses import replace

from sealwright.recipe import Recipe, bare_of

_BARE = bare_of(Recipe())
BARE_BAND, BARE_LINE = _BARE.band, _BARE.seal_line


def bare_recipe(**changes: object) -> Recipe:
    """A narrow band that lies on the skin itself, four straps of 4 N, and whatever else is changed."""
    return replace(_BARE, **changes)

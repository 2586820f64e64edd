"""The bare rigid band: what tests of the contact geometry itself are made with."""

from __future__ import annotations

from dataclasses import replace

from sealwright.cushion.settings import CushionSettings
from sealwright.facepiece.contact_band import BandSettings
from sealwright.facepiece.seal_line import SealLineSettings
from sealwright.recipe import Recipe

BARE_BAND = BandSettings(width_mm=15.0, thickness_mm=2.4)
BARE_LINE = SealLineSettings(smoothing_mm=5.0)
_BARE = Recipe(cushion=CushionSettings(kind="none"), band=BARE_BAND, seal_line=BARE_LINE)
_BARE = replace(_BARE, straps=replace(_BARE.straps, tension_n=4.0))


def bare_recipe(**changes: object) -> Recipe:
    """A narrow band that lies on the skin itself, four straps of 4 N, and whatever else is changed."""
    return replace(_BARE, **changes)

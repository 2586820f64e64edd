"""A contact band in one call: the rows on the skin, then their rolled edge and their turn into the wall."""

from __future__ import annotations

from sealwright.face.surface import FaceSurface
from sealwright.facepiece.band_ends import Fillet
from sealwright.facepiece.contact_band import BandSettings, ContactBand, ended_band, laid_strip
from sealwright.facepiece.seal_line import SealLine
from sealwright.mesh import Floats


def contact_band(
    face: FaceSurface,
    line: SealLine,
    settings: BandSettings,
    fillet: Fillet,
    row_mm: float,
    shaped_mm: Floats | None = None,
) -> ContactBand:
    """The contact band along a seal line, as a design lays it in two stages."""
    return ended_band(laid_strip(face, line, settings, row_mm, shaped_mm), settings, fillet)

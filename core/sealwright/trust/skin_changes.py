"""How much of the skin under the seal was changed: holes filled, spikes pulled back, skin moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..designing.prepared import Prepared
from ..facepiece.contact_band import BandSettings
from ..facepiece.seal_line import SealLine
from .measures import band_rows
from .verdicts import SealTrust

TOLD_MM = 0.005  # smaller moves round to nothing in what the maker reads


@dataclass(frozen=True)
class SkinChanges:
    """What was changed on the skin under the contact band.

    Attributes
    ----------
    holes : filled holes that lie under the band, each counted once.
    hole_line_mm : length of seal line with filled skin under its band.
    moved_mm : the farthest that smoothing moved the scanned skin under the band.
    bound_mm : the hard bound of that smoothing.
    spikes : spikes of the scan that were pulled back under or beside the band.
    """

    holes: int
    hole_line_mm: float
    moved_mm: float
    bound_mm: float
    spikes: int

    @property
    def sentence(self) -> str:
        """The amounts in plain words."""
        said = []
        if self.holes:
            what = _counted(self.holes, "hole")
            said.append(f"{what} filled under {self.hole_line_mm:.0f} mm of seal line")
        if self.moved_mm >= TOLD_MM:
            said.append(f"skin moved by at most {self.moved_mm:.2f} mm")
        if self.spikes:
            said.append(_counted(self.spikes, "spike") + " pulled back")
        if not said:
            return "Under the seal the skin is as it was scanned."
        return f"Changed under the seal: {', '.join(said)}."


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")


def changes_under_seal(
    prepared: Prepared, line: SealLine, band: BandSettings, trust: SealTrust
) -> SkinChanges:
    """What was changed on the skin under the band.

    Parameters
    ----------
    prepared : the wearer.
    line : where the band runs.
    band : its width, and how it lies on the line.
    trust : the trust in that skin along the same line.
    """
    face = prepared.face
    pixels = np.rint(face.chart.pixels_of(face.chart.place_of(band_rows(face, line, band))[0]))
    row, column = np.moveaxis(pixels.astype(np.int64).clip(0, face.chart.side - 1), -1, 0)
    named, _ = ndimage.label(face.guessed, np.ones((3, 3)))  # corners touch: still one hole
    here = named[row, column]
    moved = np.abs(np.where(face.measured, face.smoothing.moved_mm, 0.0))[row, column]
    return SkinChanges(
        holes=len(np.unique(here[here > 0])),
        hole_line_mm=float((here > 0).any(axis=1).sum() * line.spacing_mm),
        moved_mm=float(moved.max()),
        bound_mm=face.smoothing.bound_mm,
        spikes=int(trust.skin.repaired.sum()),
    )

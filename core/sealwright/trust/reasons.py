"""Judges of one sector each: what is wrong with its skin, how bad it is, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .layers import BLIND_MM
from .settings import TrustSettings

GOOD, DOUBTFUL, RESCAN = "good", "doubtful", "rescan"
WORDS = (GOOD, DOUBTFUL, RESCAN)
HAIRY = ("cheek", "mouth side", "jaw", "chin")
"""Sectors where hair grows on faces; elsewhere rough skin is judged as noise only."""


@dataclass(frozen=True)
class SectorMeasures:
    """What was measured in one sector of the seal line.

    Attributes
    ----------
    noise_mm, roughness_mm : white noise and roughness that half of the sector exceeds.
    spacing_mm : typical distance between the points of the scan.
    guessed_share : share of the band's skin that was filled.
    border_mm : nearest border of the scan, infinite without one.
    steep_share : share of the band's skin steeper than the limit.
    doubled_share : share of the band's skin that the scan holds twice, one layer behind the other.
    repaired : spikes pulled back.
    """

    noise_mm: float
    roughness_mm: float
    spacing_mm: float
    guessed_share: float
    border_mm: float
    steep_share: float
    doubled_share: float
    repaired: int


@dataclass(frozen=True)
class Reason:
    """One thing that is wrong with a sector: its verdict, a sentence, and what to do."""

    verdict: str
    text: str
    fix: str


def reasons_of(
    sector: str, found: SectorMeasures, smooth_mm: float, limits: TrustSettings
) -> Iterator[Reason]:
    """What is wrong with a sector; nothing for good skin.

    Parameters
    ----------
    sector : its name.
    found : its measures.
    smooth_mm : roughness of the wearer's smooth skin, that hair is told from.
    limits : where good ends.
    """
    yield from _guessed(found, limits)
    yield from _border(found, limits)
    yield from _doubled(found, limits)
    noisy = list(_noise(found, limits))
    coarse = list(_coarse(found, limits))
    # Between points far apart the curves of the skin look like noise; only too much of it can be told.
    yield from (reason for reason in noisy if not coarse or reason.verdict == RESCAN)
    yield from coarse
    if not noisy and not coarse and sector.removeprefix("left ").removeprefix("right ") in HAIRY:
        yield from _hair(found, smooth_mm, limits)
    yield from _steep(found, limits)
    yield from _repaired(found, limits)


def _graded(value: float, doubtful: float, rescan: float, text: str, fix: str) -> Iterator[Reason]:
    """A reason where a value is above the limit of doubtful or of rescan; nothing where it is good."""
    if value > doubtful:
        yield Reason(RESCAN if value > rescan else DOUBTFUL, text, fix)


def _guessed(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    text = f"Guessed skin: {100 * found.guessed_share:.0f} % under the band was filled, not scanned."
    fix = "Scan this place again from the front of it, or move the seal line."
    yield from _graded(found.guessed_share, limits.guessed_share, limits.guessed_rescan_share, text, fix)


def _border(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    text = f"The scan ends {found.border_mm:.1f} mm from the band; scans are least true at their border."
    fix = "Scan further round this side, or move the seal line inwards."
    yield from _graded(-found.border_mm, -limits.border_mm, -limits.border_rescan_mm, text, fix)


def _noise(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    text = f"The skin scatters by {found.noise_mm:.2f} mm."
    fix = "Scan this place again slowly with more light, free of hair and shine."
    yield from _graded(found.noise_mm, limits.noise_mm, limits.noise_rescan_mm, text, fix)


def _hair(found: SectorMeasures, smooth_mm: float, limits: TrustSettings) -> Iterator[Reason]:
    rough = max(found.noise_mm, found.roughness_mm)
    if rough > max(limits.hair_mm, limits.hair_times * smooth_mm):
        text = f"Hair or stubble: {rough:.2f} mm rough where the wearer's smooth skin has {smooth_mm:.2f} mm."
        yield Reason(DOUBTFUL, text, "Shave where the mask seals and scan again; no mask seals on hair.")


def _steep(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    text = f"{100 * found.steep_share:.0f} % of the skin here is steep or overhangs."
    fix = "Move the seal line off the fold, or scan this place from its side."
    yield from _graded(found.steep_share, limits.steep_share, limits.steep_rescan_share, text, fix)


def _doubled(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    # Where the skin scatters so much, its lowest points look like a layer of their own.
    if found.noise_mm >= BLIND_MM:
        return
    text = f"Double skin: under {100 * found.doubled_share:.0f} % of the band lies a second layer."
    fix = "Scan again without moving the face, or delete the layer that is wrong; the outer one was taken."
    yield from _graded(found.doubled_share, limits.doubled_share, limits.doubled_rescan_share, text, fix)


def _coarse(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    if found.spacing_mm > limits.spacing_mm:
        text = f"The points of the scan lie {found.spacing_mm:.1f} mm apart, too far to follow the skin."
        yield Reason(DOUBTFUL, text, "Export the scan with more triangles, or scan closer.")


def _repaired(found: SectorMeasures, limits: TrustSettings) -> Iterator[Reason]:
    if found.repaired >= limits.repaired:
        text = f"{found.repaired} spikes of the scan were pulled back under the band."
        yield Reason(DOUBTFUL, text, "Look at this place in the picture; scan it again if it looks torn.")

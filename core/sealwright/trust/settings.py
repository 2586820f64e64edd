"""Where good skin ends and doubtful skin begins, and where only a new scan helps."""

from __future__ import annotations

from dataclasses import dataclass

from ..limits import limit
from ..settings import quantity


@dataclass(frozen=True)
class TrustSettings:
    """Limits of the verdicts on the scanned skin under the seal; common practice, no source."""

    noise_mm: float = quantity(
        limit("scan_noise").value,
        "mm",
        0.05,
        5.0,
        "White noise above this is doubtful.",
    )
    noise_rescan_mm: float = quantity(1.0, "mm", 0.1, 10.0, "White noise above this asks for a new scan.")
    hair_mm: float = quantity(0.15, "mm", 0.02, 2.0, "Skin smoother than this is never taken for hair.")
    hair_times: float = quantity(
        2.0,
        "1",
        1.2,
        20.0,
        "Cheek, mouth side, jaw or chin this many times as rough as the smooth skin: hair.",
    )
    guessed_share: float = quantity(0.01, "1", 0.0, 1.0, "Share of filled skin above which it is doubtful.")
    guessed_rescan_share: float = quantity(
        0.2, "1", 0.0, 1.0, "Share of filled skin that asks for a new scan."
    )
    border_mm: float = quantity(3.0, "mm", 0.0, 20.0, "A border of the scan nearer than this is doubtful.")
    border_rescan_mm: float = quantity(1.0, "mm", 0.0, 20.0, "Nearer than this asks for a new scan.")
    steep_deg: float = quantity(65.0, "deg", 30.0, 89.0, "Skin steeper than this counts as steep.")
    steep_share: float = quantity(0.05, "1", 0.0, 1.0, "Share of steep skin above which it is doubtful.")
    steep_rescan_share: float = quantity(0.4, "1", 0.0, 1.0, "Share of steep skin that asks for a new scan.")
    doubled_share: float = quantity(0.1, "1", 0.0, 1.0, "Share of double skin above which it is doubtful.")
    doubled_rescan_share: float = quantity(
        0.5, "1", 0.0, 1.0, "Share of double skin that asks for a new scan."
    )
    spacing_mm: float = quantity(
        6.0, "mm", 0.5, 20.0, "Points of the scan further apart than this miss the curves of the skin."
    )
    repaired: float = quantity(
        3.0, "1", 1.0, 100.0, "So many pulled-back spikes under the band of a sector are doubtful."
    )

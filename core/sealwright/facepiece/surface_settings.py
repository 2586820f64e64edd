"""How the face side of the band follows the skin: at one distance, or shaped for even pressure."""

from __future__ import annotations

from dataclasses import dataclass

from ..settings import count, quantity, switch


@dataclass(frozen=True)
class SurfaceSettings:
    """The contact surface."""

    shaped: bool = switch(
        False,
        "Shape the contact surface for even pressure: smooth offsets chosen on drawn wearers, for some "
        "seconds; where they bring nothing on this wearer the surface stays even.",
    )
    most_mm: float = quantity(
        1.0,
        "mm",
        0.1,
        2.0,
        "No offset is larger, to either side; less where it would press a cushion by over 40 %.",
    )
    waves: int = count(
        6,
        1,
        12,
        "Offsets vary by up to so many waves round the seal line: six are some 57 mm long each, longer than "
        "the scan's error stays alike.",
    )

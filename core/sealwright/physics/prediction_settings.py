"""What a prediction assumes of straps, skin, filter and breathing."""

from __future__ import annotations

from dataclasses import dataclass

from ..anthropometry.sizing import SizingSettings
from ..limits import limit
from ..settings import optional_quantity, quantity, section
from .comfort import ComfortSettings
from .contact_result import ContactSettings
from .fit_settings import FitSettings
from .tension import TensionSettings


@dataclass(frozen=True)
class StrapAssumptions:
    """How the wearer pulls the straps."""

    upper_share: float | None = optional_quantity(
        "1",
        0.1,
        0.9,
        0.5,
        "Share of the whole pull that the upper half of the straps takes; automatic is the one at which most "
        "draws hold under the same pressure. Only with two pairs or more.",
    )


@dataclass(frozen=True)
class FilterAssumptions:
    """The filter in front of the wearer."""

    penetration: float = quantity(
        0.0,
        "1",
        0.0,
        1.0,
        "Share of particles that the medium lets through, where it was measured; 0 draws it from the "
        "media table. "
        "It counts in the total protection only: a fit test judges the seal alone.",
    )


@dataclass(frozen=True)
class PredictionSettings:
    """All that a prediction assumes."""

    straps: StrapAssumptions = section(StrapAssumptions, "How the wearer pulls the straps.")
    contact: ContactSettings = section(ContactSettings, "Skin, soft layer, friction.")
    fit: FitSettings = section(FitSettings, "What is not known of the wearer, and how often it is drawn.")
    filter: FilterAssumptions = section(FilterAssumptions, "The filter.")
    comfort: ComfortSettings = section(ComfortSettings, "How pressure is turned into hours.")
    tension: TensionSettings = section(TensionSettings, "How strap tensions are searched.")
    sizing: SizingSettings = section(SizingSettings, "How sure the landmarks are.")
    narrow_mm: float = quantity(
        3.0, "mm", 1.0, 8.0, "Width of the narrow hard edge that the band is compared with."
    )
    pass_level: float = quantity(
        limit("fit_factor").value,
        "1",
        2.0,
        10000.0,
        "Fit factor that passes, for a half mask as in 29 CFR 1910.134 App A.",
    )

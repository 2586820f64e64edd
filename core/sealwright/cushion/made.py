"""What is made for a cushion: pattern, worn solid, moulds, masses, order of steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..solids.boolean import Solid
from .band_face import BandFace
from .pattern import Pattern, foam_pattern
from .settings import Cushion
from .steps import foam_steps


@dataclass(frozen=True, eq=False, kw_only=True)
class CushionMade:
    """A cushion of a finished design.

    Attributes
    ----------
    cushion : its resolved values.
    volume_mm3, mass_g : of what is worn.
    steps : how it is made and put on, in order.
    pattern : of a foam strip, else None.
    worn : the solid of a cast lip or a printed liner, in the face frame, else None.
    tools : what is printed to make it and not worn, by part name.
    facts : further numbers for the report.
    """

    cushion: Cushion
    volume_mm3: float
    mass_g: float
    steps: tuple[str, ...]
    pattern: Pattern | None = None
    worn: Solid | None = None
    tools: Mapping[str, Solid] = field(default_factory=dict)
    facts: Mapping[str, float] = field(default_factory=dict)


def mass_g(cushion: Cushion, volume_mm3: float) -> float:
    """Mass of a volume of a cushion's material."""
    return volume_mm3 * 1e-3 * float(cushion.row["density_g_cm3"]["value"])


def foam_made(cushion: Cushion, face: BandFace) -> CushionMade:
    """A foam strip for the face of a hard band."""
    pattern = foam_pattern(face)
    volume = pattern.area_mm2 * cushion.thickness_mm
    return CushionMade(
        cushion=cushion,
        volume_mm3=volume,
        mass_g=mass_g(cushion, volume),
        steps=foam_steps(cushion, pattern),
        pattern=pattern,
    )

"""What is made for a cushion: pattern, worn solid, moulds, masses, order of steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..mesh import Floats
from ..solids.boolean import Solid, solid_of
from .band_face import BandFace
from .liner import liner_of
from .lip import Lip
from .mould import mould_of
from .pattern import Pattern, foam_pattern
from .settings import Cushion
from .steps import foam_steps, liner_steps, lip_steps

_WASTE, _CUP_MM3 = 1.1, 5000.0  # a tenth over, and what stays in the cup (common practice, no source)


@dataclass(frozen=True)
class MouldFacts:
    """What is poured into a mould, and through how many vents the air leaves."""

    poured_ml: float
    vents: int


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
    eased_mm : how far a lip or a liner was moved at most so that its mould opens, else None.
    mould : what goes into the mould of a cast lip, else None.
    mould_from_face : (4, 4) from the face frame to the half that shapes the skin side as it prints, else
        None.
    groove_depth_mm : of the groove for a liner, else None.
    """

    cushion: Cushion
    volume_mm3: float
    mass_g: float
    steps: tuple[str, ...]
    pattern: Pattern | None = None
    worn: Solid | None = None
    tools: Mapping[str, Solid] = field(default_factory=dict)
    eased_mm: float | None = None
    mould: MouldFacts | None = None
    mould_from_face: Floats | None = None
    groove_depth_mm: float | None = None


def mass_g(cushion: Cushion, volume_mm3: float) -> float:
    """Mass of a volume of a cushion's material."""
    return volume_mm3 * 1e-3 * float(cushion.row["density_g_cm3"]["value"])


def lip_made(cushion: Cushion, lip: Lip) -> CushionMade:
    """A cast lip with its mould.

    Raises
    ------
    DoesNotFit : the mould could not be opened.
    BadSolid, BooleanFailed : a half would not be sound.
    """
    worn = solid_of(lip.mesh, "lip")
    mould = mould_of(lip, float(cushion.row["shrink_percent"]["value"]))
    poured = (worn.volume + mould.sprue_mm3) * _WASTE + _CUP_MM3
    grams = mass_g(cushion, poured)
    return CushionMade(
        cushion=cushion,
        volume_mm3=worn.volume,
        mass_g=mass_g(cushion, worn.volume),
        steps=lip_steps(poured / 1000.0, grams, mould.vents),
        worn=worn,
        tools=mould.halves,
        eased_mm=lip.eased_mm,
        mould=MouldFacts(poured / 1000.0, mould.vents),
        mould_from_face=mould.from_face,
    )


def liner_made(cushion: Cushion, lip: Lip, body: Solid, band_mm: float) -> tuple[CushionMade, Solid]:
    """A printed liner, and the body with the groove for it.

    Raises
    ------
    BadSolid, BooleanFailed : ridge or groove could not be made.
    """
    made = liner_of(lip, body, band_mm)
    cushion_made = CushionMade(
        cushion=cushion,
        volume_mm3=made.liner.volume,
        mass_g=mass_g(cushion, made.liner.volume),
        steps=liner_steps(made.depth_mm),
        worn=made.liner,
        eased_mm=lip.eased_mm,
        groove_depth_mm=made.depth_mm,
    )
    return cushion_made, made.body


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

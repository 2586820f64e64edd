"""All that the maker decides, in sections that lie where each is used."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..cushion.settings import CushionSettings
from ..errors import BadRecipe, Where
from ..facepiece.chamber_wall import ChamberSettings
from ..facepiece.contact_band import BandSettings
from ..facepiece.port_place import PortPlaceSettings
from ..facepiece.quick_tube import TubeSettings
from ..facepiece.seal_line import SealLineSettings
from ..facepiece.strap_points import StrapSettings
from ..facepiece.surface_settings import SurfaceSettings
from ..hardware.allowance import AllowanceSettings
from ..hardware.options import THREADED, ExhalationSettings, HolderSettings, LugSizes
from ..own_shapes.settings import FittingSettings, ShellSettings, TrimSettings
from ..physics.prediction_settings import PredictionSettings
from ..printing.printer import PrinterSettings
from ..settings import choice, optional_choice, optional_quantity, quantity, section, sections, text


@dataclass(frozen=True)
class ScanSettings:
    """How the scan is read."""

    unit: str | None = optional_choice(
        ("mm", "cm", "m", "in"), "Unit of the scan file; automatic judges by the size."
    )
    wearer_scale: float = quantity(
        1.0, "1", 0.9, 1.1, "Factor on the wearer's face, for a tighter or looser mask; not for shrinkage."
    )
    smoothing_mm: float | None = optional_quantity(
        "mm",
        0.0,
        1.0,
        0.2,
        "Hard bound of the smoothing of the skin; automatic takes 1.5 times the measured noise.",
    )
    fill_mm: float = quantity(
        8.0, "mm", 0.0, 30.0, "Gaps of the scan up to this width are filled as guessed skin."
    )


@dataclass(frozen=True)
class Recipe:
    """All decisions of a design."""

    title: str = text("Dust half mask", "Name of the design, not of the wearer.")
    kind: str = choice(
        "body",
        ("body", "tube", "shell", "trim"),
        "A whole facepiece, a plain tube trimmed to the face for trials, a shell over an outline, or a model "
        "trimmed to the skin.",
    )
    scan: ScanSettings = section(ScanSettings, "How the scan is read.")
    seal_line: SealLineSettings = section(SealLineSettings, "Where the body seals.")
    band: BandSettings = section(BandSettings, "The contact band.")
    cushion: CushionSettings = section(CushionSettings, "A soft layer between band and skin.")
    contact_surface: SurfaceSettings = section(SurfaceSettings, "How the hard band follows the skin.")
    chamber: ChamberSettings = section(ChamberSettings, "Chamber and wall.")
    ports: tuple[PortPlaceSettings, ...] = sections(
        PortPlaceSettings, (PortPlaceSettings(),), "Ports; the chamber wall runs into the first."
    )
    exhalation: ExhalationSettings = section(ExhalationSettings, "The exhalation valve.")
    holder: HolderSettings = section(HolderSettings, "The screw-on filter holder.")
    straps: StrapSettings = section(StrapSettings, "Strap anchors.")
    tube: TubeSettings = section(TubeSettings, "The plain tube.")
    shell: ShellSettings = section(ShellSettings, "A shell over an outline of the maker's own.")
    trim: TrimSettings = section(TrimSettings, "A closed mesh of the maker's own, trimmed to the skin.")
    fittings: tuple[FittingSettings, ...] = sections(
        FittingSettings,
        (),
        "Ports and strap lugs at places of the surface of a mask, a shell or a trimmed model.",
    )
    allowance: AllowanceSettings = section(AllowanceSettings, "Clearance, coating and shrinkage.")
    printer: PrinterSettings = section(PrinterSettings, "The printer and its limits.")
    prediction: PredictionSettings = section(
        PredictionSettings, "What a prediction assumes of straps, skin, filter and breathing."
    )


OWN_KINDS = ("shell", "trim")
"""Kinds of design that the maker drew or modelled."""


def fittings_of(recipe: Recipe, kind: str) -> dict[str, FittingSettings]:
    """The fittings of a kind by their recipe keys."""
    return {f"recipe.fittings[{n}]": one for n, one in enumerate(recipe.fittings) if one.kind == kind}


def ports_of(recipe: Recipe) -> tuple[PortPlaceSettings | FittingSettings, ...]:
    """The ports that the maker decided on, in the order of the design's."""
    return tuple(fittings_of(recipe, "port").values()) if recipe.kind in OWN_KINDS else recipe.ports


def lug_of(recipe: Recipe, number: int) -> LugSizes:
    """Sizes of a lug of a design, from 0."""
    if recipe.kind in OWN_KINDS:
        return list(fittings_of(recipe, "lug").values())[number].lug
    return recipe.straps.lug


def holder_on(recipe: Recipe, number: int) -> HolderSettings | None:
    """The holder that a port (from 0) carries, with its own medium; None for a cap, nothing, or no thread."""
    place = ports_of(recipe)[number]
    if place.connection.kind not in THREADED or place.carries in ("cap", "nothing"):
        return None
    if place.disc_mm is None:
        return recipe.holder
    return replace(recipe.holder, shape="disc", disc_mm=place.disc_mm)


def held_by(recipe: Recipe) -> list[HolderSettings]:
    """The holders of all ports that carry one."""
    found = (holder_on(recipe, number) for number in range(len(ports_of(recipe))))
    return [holder for holder in found if holder is not None]


def require_port(recipe: Recipe) -> None:
    """Refuse a facepiece without any port.

    Raises
    ------
    BadRecipe : it has none.
    """
    if not recipe.ports and recipe.kind == "body":
        raise BadRecipe(
            "The recipe has no port.", Where("recipe", key="recipe.ports"), "Give at least one port."
        )

"""What the maker decides about shapes of his own."""

from __future__ import annotations

from dataclasses import dataclass

from ..hardware.options import LugSizes, PortSettings, carried, own_disc
from ..settings import choice, optional_quantity, quantity, section, sections, switch
from ..settings.fields import REACH_MM


@dataclass(frozen=True)
class EdgeSettings:
    """A free edge: it rolls off the skin, and its end is a half circle."""

    radius_mm: float = quantity(
        4.0, "mm", 1.5, 12.0, "Radius by which the edge rolls off the skin, on its skin side."
    )
    roll_deg: float = quantity(
        50.0, "deg", 0.0, 80.0, "How far round the edge rolls; 0 ends the shell flat, with a half circle."
    )


@dataclass(frozen=True)
class HoleSettings:
    """An opening that lies by landmarks, so that one recipe serves many wearers."""

    at: str = choice("eyes", ("eyes", "nostrils", "mouth"), "What it leaves free; eyes are two openings.")
    width_mm: float = quantity(40.0, "mm", 4.0, 80.0, "Width of each opening along the skin.")
    height_mm: float = quantity(28.0, "mm", 4.0, 60.0, "Height of each opening along the skin.")
    up_mm: float = quantity(0.0, "mm", -30.0, 30.0, "How far its middle lies above the landmarks' middle.")


@dataclass(frozen=True)
class SlotSettings:
    """A pair of strap slots, one on either side."""

    length_mm: float = quantity(21.0, "mm", 5.0, 60.0, "Length of the slot: width of the strap and a little.")
    width_mm: float = quantity(4.0, "mm", 1.5, 15.0, "Width of the slot.")
    bridge_mm: float = quantity(5.0, "mm", 2.0, 20.0, "Flat shell left between slot and rolled edge.")
    level: float = quantity(
        0.5, "1", 0.05, 0.95, "Height of the slots between the lowest and the highest place of the outline."
    )


@dataclass(frozen=True)
class ShellSettings:
    """A shell over an outline on the skin."""

    thickness_mm: float = quantity(2.4, "mm", 0.8, 6.0, "Thickness of the shell, the same everywhere.")
    stand_off_mm: float = quantity(0.0, "mm", 0.0, 8.0, "Gap between skin and shell.")
    fold_mm: float = quantity(
        4.0,
        "mm",
        0.1,
        30.0,
        "Folds of the skin tighter than the shell is thick are filled by it; one that makes it thicker "
        "by more than this is refused.",
    )
    smoothing_mm: float = quantity(
        1.5, "mm", 0.0, 10.0, "Smoothing length along the outline; more is taken where a corner needs it."
    )
    line: str = choice(
        "smooth", ("smooth", "straight"), "A smooth curve through the points, or straight lines between them."
    )
    edge: EdgeSettings = section(EdgeSettings, "The free edge, also that of the holes.")
    holes: tuple[HoleSettings, ...] = sections(HoleSettings, (), "Openings that lie by landmarks.")
    slots: tuple[SlotSettings, ...] = sections(SlotSettings, (), "Pairs of strap slots.")


@dataclass(frozen=True)
class TrimSettings:
    """A closed mesh of the maker's own, trimmed to the skin."""

    band: bool = switch(
        True, "Give it a contact band as the band section says; without one its own cut surface touches."
    )
    fillet_mm: float = quantity(
        4.0, "mm", 0.0, 15.0, "Size of the fillet between band and model; it shrinks where there is no room."
    )


@dataclass(frozen=True)
class FittingSettings:
    """A port or a strap lug on a shape of the maker's own, at a place of its surface."""

    kind: str = choice("port", ("port", "lug"), "What stands there.")
    x_mm: float = quantity(0.0, "mm", -REACH_MM, REACH_MM, "Its place, towards the wearer's left.")
    y_mm: float = quantity(-30.0, "mm", -REACH_MM, REACH_MM, "Its place; out of the face is negative.")
    z_mm: float = quantity(0.0, "mm", -REACH_MM, REACH_MM, "Its place, above subnasale.")
    tilt_deg: float | None = optional_quantity(
        "deg", -90.0, 90.0, 15.0, "Axis below the horizontal. Automatic: square to the surface there."
    )
    turn_deg: float | None = optional_quantity(
        "deg", -180.0, 180.0, 0.0, "Axis towards the wearer's left. Automatic: square to the surface there."
    )
    roll_deg: float = quantity(
        0.0, "deg", -180.0, 180.0, "Turn about its own axis; at 0 the strap of a lug pulls upwards."
    )
    carries: str | None = carried()
    disc_mm: float | None = own_disc()
    connection: PortSettings = section(PortSettings, "What connects there, for a port.")
    lug: LugSizes = section(LugSizes, "Its sizes, for a lug.")

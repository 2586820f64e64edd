"""Recipe sections for ports, holder, lugs and valve; defaults are common practice unless sourced."""

from __future__ import annotations

from dataclasses import dataclass

from ..settings import choice, count, optional_choice, optional_quantity, quantity, section, switch
from ..tables import row_names

THREADED = ("printed", "metric", "trapezoidal")  # kinds of port with an external thread
PORT_KINDS = ("printed", "metric", "trapezoidal", "rd40", "cone", "plain", "valve")


@dataclass(frozen=True)
class ValveSettings:
    """Cartridge of an exhalation valve for a flat flap."""

    flap_mm: float | None = optional_quantity(
        "mm",
        15.0,
        50.0,
        20.0,
        "Diameter of the flat flap; automatic: 20, or 18 or 16 where the wall has no room for more.",
    )
    seat_width_mm: float = quantity(1.2, "mm", 0.6, 4.0, "Width of the ring the flap lies on.")
    overlap_mm: float = quantity(0.8, "mm", 0.2, 3.0, "How far the flap reaches beyond the seat ring.")
    spokes: int = count(3, 3, 8, "Spokes that carry the button.")
    spoke_mm: float = quantity(1.6, "mm", 0.8, 4.0, "Width of a spoke.")
    button_mm: float = quantity(3.0, "mm", 2.0, 10.0, "Diameter of the hole in the flap and of its button.")
    dome_mm: float = quantity(
        0.0,
        "mm",
        0.0,
        2.0,
        "Hub deeper than the seat: preloads the flap, but the spokes bridge in the print.",
    )
    lift_mm: float = quantity(3.0, "mm", 1.0, 12.0, "Room above the flap under the cover.")
    cover: bool = switch(True, "Make a cover against knocks and dust.")


@dataclass(frozen=True)
class ExhalationSettings:
    """The exhalation valve on the chamber wall."""

    place: str | None = optional_choice(
        {"none": "no valve", "chin": "under the chin", "left": "wearer's left", "right": "wearer's right"},
        "Where the exhalation valve stands. Its boss on the wall prints with supports: automatic sets one "
        "only where overhang is free and the filter alone misses a limit of breathing out, at the place that "
        "has room for the largest flap, under the chin first.",
    )
    valve: ValveSettings = section(ValveSettings, "The cartridge.")


@dataclass(frozen=True)
class PortSettings:
    """One port of the body."""

    kind: str = choice(
        "printed",
        PORT_KINDS,
        "Connection of the port. Numbers of rd40 are derived from memory of DIN 405: gauge before use.",
    )
    diameter_mm: float = quantity(
        50.0, "mm", 12.0, 80.0, "Nominal thread diameter; ignored by rd40 and cones."
    )
    pitch_mm: float = quantity(2.5, "mm", 1.0, 8.0, "Thread pitch; printed threads want 2 or more.")
    starts: int = count(1, 1, 6, "Number of thread starts; the lead is pitch times starts.")
    turns: float = quantity(3.8, "1", 2.0, 8.0, "Ridges along the thread: its length is turns times pitch.")
    bore_mm: float = quantity(
        34.0, "mm", 8.0, 60.0, "Inner diameter of the opening; 30 to 40 in front of the mouth."
    )
    seal: str = choice(
        "o_ring", ("o_ring", "soft_ring", "flat"), "What seals the front face of a male thread."
    )
    gland_side: str = choice(
        "cap",
        ("cap", "port"),
        "Where the O-ring lies: the cap's groove faces up in its print, the port's down.",
    )
    ring: str | None = optional_choice(
        row_names("rings"), "O-ring size of AS568, such as -127; automatic proposes one."
    )
    soft_material: str = choice("tpu85a", row_names("materials"), "Material of a ring printed in place.")
    soft_proud_mm: float = quantity(0.8, "mm", 0.2, 2.5, "How far a printed ring stands out of its groove.")
    cone_size: str = choice("22", ("22", "15"), "ISO 5356-1 cone size in mm.")
    cone_gender: str = choice(
        "male", ("male", "female"), "Cone outside (male) or socket (female) on the body."
    )
    valve: ValveSettings = section(ValveSettings, "The cartridge, for a port of kind valve.")
    length_mm: float = quantity(15.0, "mm", 3.0, 60.0, "Length of a plain tube.")
    wall_mm: float = quantity(2.4, "mm", 1.2, 6.0, "Wall of tubes, sockets and cones.")
    overlap_mm: float = quantity(3.0, "mm", 1.0, 8.0, "How far the boss sinks into the chamber wall.")
    segments: int = count(128, 48, 360, "Flat sides of a full circle.")


def carried() -> str | None:
    """The field of what a port carries, for all that have ports."""
    return optional_choice(
        ("holder", "cap", "nothing"),
        "What is screwed on an external thread: filter holder, blind cap or nothing. Automatic: a holder.",
    )


def own_disc() -> float | None:
    """The field of the medium in a port's own holder, likewise."""
    return optional_quantity(
        "mm",
        50.0,
        160.0,
        80.0,
        "Diameter of the medium in this port's own holder. Automatic: the medium of the holder section.",
    )


@dataclass(frozen=True)
class HolderSettings:
    """The screw-on part that carries the filter medium."""

    shape: str = choice("disc", ("disc", "pad"), "Round disc or rectangular pad.")
    disc_mm: float = quantity(122.0, "mm", 50.0, 160.0, "Diameter of the medium disc.")
    pad_length_mm: float = quantity(110.0, "mm", 50.0, 180.0, "Length of the medium pad, along X.")
    pad_width_mm: float = quantity(90.0, "mm", 50.0, 160.0, "Width of the medium pad, along Y.")
    pad_corner_mm: float = quantity(8.0, "mm", 2.0, 40.0, "Corner radius of the pad.")
    land_mm: float = quantity(
        4.0, "mm", 4.0, 15.0, "Width of the land along the edge of the medium, pressed or glued."
    )
    medium: str = choice(
        "meltblown",
        row_names("media"),
        "Filter medium, for the air's resistance here and in every prediction.",
    )
    medium_thickness_mm: float = quantity(1.0, "mm", 0.1, 25.0, "Thickness of the medium.")
    pleat_factor: float = quantity(1.0, "1", 1.0, 20.0, "Medium area over seat area; 1 for flat media.")
    edge_seal: str | None = optional_choice(
        ("pressed", "glued"),
        "What seals the edge of the medium: a ridge of the frame that presses it into a groove, so that it "
        "is replaced by hand, or glue in the groove; automatic presses where there is a frame.",
    )
    squeeze_percent: float = quantity(
        30.0, "%", 5.0, 70.0, "How much of its thickness, 0.6 mm at most, a pressed edge gives."
    )
    preload_mm: float = quantity(
        0.15, "mm", 0.0, 0.4, "How far the snap fingers of the frame stay bent when it is home: no play."
    )
    glue_width_mm: float = quantity(2.4, "mm", 1.0, 4.0, "Width of the groove for ridge or glue.")
    glue_depth_mm: float = quantity(
        1.6, "mm", 0.6, 3.0, "Depth of the groove at the ridge of its pitched roof."
    )
    grid_mm: float = quantity(1.0, "mm", 1.0, 5.0, "Thickness of the grid under the medium.")
    bar_mm: float = quantity(0.9, "mm", 0.8, 3.0, "Width of grid bars and ribs: whole nozzle lines.")
    opening_mm: float = quantity(7.0, "mm", 4.0, 14.0, "Largest opening between grid bars.")
    plenum_mm: float = quantity(1.5, "mm", 1.5, 20.0, "Height of the air channels at the rim.")
    plenum_rise_mm: float = quantity(
        3.4, "mm", 0.0, 10.0, "How much higher the air channels are at the bore, where all the air passes."
    )
    roof_mm: float = quantity(
        1.0, "mm", 0.8, 5.0, "Solid roof over the air channels: a bridging layer and four on it."
    )
    wall_mm: float = quantity(1.8, "mm", 1.6, 6.0, "Wall round the female thread and round the channels.")
    neck_mm: float = quantity(
        0.0, "mm", 0.0, 40.0, "Extra distance between port and filter, for room at the nose."
    )
    grip: str = choice("knurl", ("knurl", "ribs", "none"), "Grip on the neck.")
    retainer: str = choice(
        "snap", ("none", "snap", "screw"), "Frame over the medium that holds a pre-filter."
    )
    prefilter_mm: float = quantity(2.0, "mm", 0.0, 15.0, "Thickness of the pre-filter under the frame.")


@dataclass(frozen=True)
class LugSizes:
    """Sizes of a strap anchor."""

    strap_width_mm: float = quantity(
        15.0,
        "mm",
        8.0,
        40.0,
        "Width of the webbing; 15 to 25 is usual, wider bars bridge further in the print.",
    )
    strap_thickness_mm: float = quantity(1.5, "mm", 0.5, 5.0, "Thickness of the webbing.")
    slot_play_mm: float = quantity(1.5, "mm", 0.5, 4.0, "Slot longer than the strap is wide.")
    bar_mm: float = quantity(
        5.0, "mm", 4.0, 10.0, "Height of the bar along the pull, and thickness of the fins that carry it."
    )
    sink_mm: float = quantity(1.5, "mm", 0.5, 4.0, "How far the root sinks into the body wall.")
    pull_n: float = quantity(
        50.0, "N", 5.0, 200.0, "Pull per lug to be borne; EN 140 asks 50 N for 10 s (memory)."
    )


@dataclass(frozen=True)
class LugSettings(LugSizes):
    """Strap anchors."""

    count: int = count(4, 0, 8, "Number of lugs.")

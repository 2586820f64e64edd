"""What is not known of wearer, scan, print, filter and straps, and how often it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from ..settings import count, quantity, section, switch
from .leak_settings import LeakSettings


@dataclass(frozen=True)
class ExerciseSettings:
    """How the exercises of a fit test move the mask and the skin under it."""

    deep_flow: float = quantity(
        2.0,
        "1",
        1.0,
        5.0,
        "Flow of deep breathing over that of normal breathing; common practice, no source.",
    )
    head_up_deg: float = quantity(
        30.0, "deg", 0.0, 60.0, "How far the head is lifted while breathing in; common practice, no source."
    )
    strap_turn: float = quantity(
        0.15,
        "1",
        0.0,
        0.8,
        "By how much turning the head tightens the straps of one side and slackens those of the other, "
        "standard "
        "deviation; assumption, no source.",
    )
    jaw_mm: float = quantity(
        0.5,
        "mm",
        0.0,
        5.0,
        "How far the skin over the lower jaw leaves the band while talking, standard deviation; assumption. "
        "Talking has the lowest fit factors of all exercises (8 masks, 50 tests each, Korean abstract "
        "JAKO199620567259003).",
    )


@dataclass(frozen=True)
class FitSettings:
    """What is not known, and how often it is drawn."""

    samples: int = count(1024, 8, 8192, "How many wearers, scans, prints and straps are drawn.")
    seed: int = count(1, 0, 2**31 - 1, "Seed of the draw: the same seed gives the same range.")
    scan_error_from_scan: bool = switch(
        True,
        "Take the size of the scan's error from the noise measured under the band, by the published range of "
        "sensors with that noise; off takes `scan_noise_mm`, as found by a second scan.",
    )
    scan_noise_mm: float = quantity(
        0.5,
        "mm",
        0.0,
        3.0,
        "Standard deviation of the skin's true place about the scan, where it is known from a second scan: "
        "stereophotogrammetry 0.1 to 0.9, phone depth scanners 0.5 to 1.4 (V57).",
    )
    noise_length_mm: float = quantity(
        20.0,
        "mm",
        2.0,
        100.0,
        "Middle of the length over which that error stays alike: scanners err in patches, not point by "
        "point; "
        "assumption.",
    )
    length_spread: float = quantity(
        4.0,
        "1",
        1.0,
        10.0,
        "Factor up and down from that middle within which nine of ten lengths lie; 1 is exactly known; "
        "assumption.",
    )
    print_error_mm: float = quantity(
        0.15,
        "mm",
        0.0,
        1.0,
        "Standard deviation of the printed band's place about the designed one (warp, shrinkage), alike over "
        "80 mm: common practice, no source.",
    )
    staircase: bool = switch(True, "Let the steps of the layers keep small grooves open across the band.")
    skin_spread: float = quantity(
        1.0,
        "1",
        0.0,
        3.0,
        "Spread of the tissue (modulus by person, place and method; thickness; Poisson ratio), times "
        "that of the "
        "table; 0 is exactly known.",
    )
    shear_spread: float = quantity(
        3.0, "1", 1.0, 10.0, "Factor up and down within which nine of ten shear stiffnesses lie; assumption."
    )
    tension_spread: float = quantity(
        0.2, "1", 0.0, 0.6, "Relative spread of the tension of all straps together; assumption, no source."
    )
    side_spread: float = quantity(
        0.1, "1", 0.0, 0.5, "Relative spread of each strap's tension by itself; assumption, no source."
    )
    relief_spread: float = quantity(
        2.5, "1", 1.0, 10.0, "Factor up and down within which nine of ten skin reliefs lie; assumption."
    )
    exercises: ExerciseSettings = section(ExerciseSettings, "How the exercises move the mask.")
    leak: LeakSettings = section(LeakSettings, "Breathing and the air in the gaps.")

"""What is judged: plain typed numbers, taken once from a design and what was worked out for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..anthropometry.proportions import AxisStretch
from ..checks.fit import ContactFacts
from ..checks.wall import WallFacts
from ..physics.limits import LimitCheck
from ..physics.rebreathing import Rebreathing
from ..predict.tried import Tried
from ..scan.plausible.mouth import Mouth
from ..scan.plausible.second_face import SecondFace
from ..trust.verdicts import SectorTrust


@dataclass(frozen=True, kw_only=True)
class WearerMeasured:
    """Whose scan it seems to be.

    Attributes
    ----------
    face_length_mm : sellion to menton, see `designing.plausible`.
    adult_said : the maker said for this run that a very small face is an adult's.
    stretch : along the axis where the proportions are least usual.
    mouth : lips apart, or a smile.
    second_face : another face in the scan, its place in the face frame; None where there is none.
    """

    face_length_mm: float
    adult_said: bool
    stretch: AxisStretch
    mouth: Mouth
    second_face: SecondFace | None = None


@dataclass(frozen=True, kw_only=True)
class ScanMeasured:
    """The skin that was designed on.

    Attributes
    ----------
    noise_mm : scatter of the scan.
    smoothing_bound_mm : how far the smoothing may have moved the skin.
    guessed_share_under_band : share of the band on filled skin; None where there is no band.
    band_to_scan_p95_mm, band_to_scan_max_mm : distance of the skin under the band from the raw scan; None
        where it was not looked at.
    """

    noise_mm: float
    smoothing_bound_mm: float
    guessed_share_under_band: float | None = None
    band_to_scan_p95_mm: float | None = None
    band_to_scan_max_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class ContactMeasured:
    """How the finished body lies on the skin: what was found, and what was asked, mm."""

    found: ContactFacts
    wanted_gap_mm: float
    wanted_width_mm: float


@dataclass(frozen=True, kw_only=True)
class ClearanceMeasured:
    """Room to the face, mm; None where it was not measured, or for a tube not asked."""

    wanted_mm: float | None
    nose_lips_mm: float | None
    entry_mm: float | None


@dataclass(frozen=True, kw_only=True)
class BreathingMeasured:
    """Pressures beside their limits, and carbon dioxide, the standard's breath first."""

    limits: tuple[LimitCheck, ...]
    rebreathing: tuple[Rebreathing, ...]


@dataclass(frozen=True, kw_only=True)
class HardwareMeasured:
    """Strength of the lugs and what hangs on the port; None where there is no such part."""

    lug_safety_factor: float | None = None
    lug_bears_n: float = 0.0
    lug_pull_n: float = 0.0
    holder_mass_g: float | None = None
    thread_engaged_turns: float | None = None


@dataclass(frozen=True, kw_only=True)
class AssemblyMeasured:
    """How the parts go together.

    Attributes
    ----------
    pairs : number of mates looked at.
    faults : of each faulty one: part, other, and "overlap", "way", "play" or "loose".
    overlap_mm3 : the most that two rigid parts share at home.
    """

    pairs: int
    faults: tuple[tuple[str, str, str], ...]
    overlap_mm3: float


@dataclass(frozen=True, kw_only=True)
class PrintMeasured:
    """How a part prints."""

    fits_bed: bool
    support_free: bool
    longest_bridge_mm: float


@dataclass(frozen=True, kw_only=True)
class HoldMeasured:
    """A mask in balance on the face: contact, straps, leak and pressure as predicted.

    Attributes
    ----------
    share_holding, share_staying : of the drawn cases in which every head position holds, or keeps its place.
    weakest : head position that holds in the fewest cases, and their share.
    straps_n, needed_n : sum of the strap pulls, and what breathing out asks for.
    automatic_pull : whether the prediction settled the pull.
    median_p95_kpa : median over the drawn cases of the pressure that 95 % of the touching skin stay below.
    fit_p5, fit_p75, fit_p95 : fit factors that so many per cent of the plausible cases stay below.
    fit_pass_level, chance_pass : the factor that passes, and the share of the cases that reach it.
    leaks_most : region with the most leak, and its share.
    high_kpa, mean_kpa : pressure that 95 % of the touching skin stay below, and its mean.
    over_capillary_share : share of the touching skin above the capillary pressure.
    presses_most : region with the highest pressure, and that pressure in kPa.
    advised_h : longest time without a break.
    tried : what would change it, worn by the same draws; None where nothing was tried.
    """

    share_holding: float
    share_staying: float
    weakest: tuple[str, float]
    straps_n: float
    needed_n: float
    automatic_pull: bool
    median_p95_kpa: float
    fit_p5: float
    fit_p75: float
    fit_p95: float
    chance_pass: float
    leaks_most: tuple[str, float]
    high_kpa: float
    mean_kpa: float
    over_capillary_share: float
    presses_most: tuple[str, float]
    advised_h: float
    tried: Tried | None = None


@dataclass(frozen=True, kw_only=True)
class PredictionMeasured:
    """The balance on the face, or why there is none."""

    hold: HoldMeasured | None
    refusal: str = ""


@dataclass(frozen=True, kw_only=True)
class SecondPoseMeasured:
    """The seal in another pose; no largest lift where there is no balance, and ``refusal`` says why.

    ``upper_face_mm`` and ``nose_apart_mm`` say how well it is the same person: 90 % of forehead and nose
    bridge lie within the first, the nose landmarks within the second; None where it was not looked at.
    """

    lifted_share: float
    largest_lift_mm: float | None
    refusal: str = ""
    upper_face_mm: float | None = None
    nose_apart_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Measured:
    """All that is judged of one design; None or nothing where it was not measured.

    Attributes
    ----------
    scan : the skin.
    wearer : whose it seems to be.
    landmarks : confidence by name.
    sectors : trust in the skin under the seal, by sector.
    contact, clearance, wall : of the finished body.
    problems : what is wrong with each part, by its name; nothing for a sound one.
    breathing, hardware, prints : in use, and of the parts by name.
    assembly : how the parts go together.
    prediction, second_pose : on the wearer.
    doubts : by the key of a verdict, uncertain landmarks that its worst place hangs on, in words.
    """

    scan: ScanMeasured
    landmarks: Mapping[str, float]
    clearance: ClearanceMeasured
    wearer: WearerMeasured | None = None
    sectors: tuple[SectorTrust, ...] = ()
    contact: ContactMeasured | None = None
    wall: WallFacts | None = None
    problems: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    breathing: BreathingMeasured | None = None
    hardware: HardwareMeasured = field(default_factory=HardwareMeasured)
    prints: Mapping[str, PrintMeasured] = field(default_factory=dict)
    assembly: AssemblyMeasured | None = None
    prediction: PredictionMeasured | None = None
    second_pose: SecondPoseMeasured | None = None
    doubts: Mapping[str, str] = field(default_factory=dict)

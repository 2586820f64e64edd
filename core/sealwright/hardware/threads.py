"""Thread sizes by the formulas of the standards, and our printable form.

Formulas: ISO 68-1/261 (metric) and ISO 2901 to 2904 (trapezoidal) are textbook formulas. The round thread
follows DIN 405 relations **from memory**; EN 148-1 tolerances, seat depth and gasket sizes were not
available, so Rd 40 here is a nominal that must be gauged against a real part, and no conformity is claimed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import BadRecipe, Where
from ..tables import table
from .profiles import ThreadProfile

INCH_MM = 25.4


@dataclass(frozen=True)
class Thread:
    """A thread: the nominal profiles of its male part and of the space in its female part.

    Attributes
    ----------
    name : designation, for example "Tr 40x3".
    form : "printed", "metric", "trapezoidal" or "round".
    major_mm : nominal diameter d.
    pitch_mm, starts : pitch and number of starts; lead = pitch * starts.
    male : profile of the external thread.
    female : profile of the space cut into the internal part.
    source : where the formulas come from, with their confidence.
    """

    name: str
    form: str
    major_mm: float
    pitch_mm: float
    starts: int
    male: ThreadProfile
    female: ThreadProfile
    source: str

    @property
    def lead_mm(self) -> float:
        """Advance per turn, mm."""
        return self.pitch_mm * self.starts

    @property
    def pitch_diameter_mm(self) -> float:
        """Pitch diameter d2 = D2, mm."""
        return 2.0 * self.male.pitch_radius_mm

    @property
    def male_root_mm(self) -> float:
        """Root diameter d3 of the external thread, mm."""
        return 2.0 * self.male.bottom_radius_mm

    @property
    def female_crest_mm(self) -> float:
        """Minor diameter D1 of the internal thread, mm."""
        return 2.0 * self.female.bottom_radius_mm

    @property
    def female_root_mm(self) -> float:
        """Major diameter D4 (D for metric) of the internal thread, mm."""
        return 2.0 * self.female.top_radius_mm

    @property
    def overlap_mm(self) -> float:
        """Radial overlap H1 of the nominal crests, mm."""
        return self.male.top_radius_mm - self.female.bottom_radius_mm

    @property
    def lead_angle_deg(self) -> float:
        """Lead angle at the pitch diameter, degrees."""
        return math.degrees(math.atan(self.lead_mm / (math.pi * self.pitch_diameter_mm)))

    @property
    def overhang_deg(self) -> float:
        """Overhang of a flank from the vertical when the axis is vertical, degrees."""
        return 90.0 - math.degrees(self.male.flank_rad)


def printed_thread(major_mm: float, pitch_mm: float, starts: int = 1) -> Thread:
    """Our printable form: 45 degree flanks, depth a third of the pitch, crest and root flats a sixth of it.

    With the axis vertical no flank overhangs more than 45 degrees. Male and female share one nominal profile;
    the gap between them is the allowance alone.
    """
    depth = pitch_mm / 3.0
    top = 0.5 * major_mm
    profile = ThreadProfile(pitch_mm, top - 0.5 * depth, 0.25 * math.pi, top, top - depth, pitch_mm * starts)
    name = f"P {major_mm:g}x{pitch_mm * starts:g}" + (f"P{pitch_mm:g}" if starts > 1 else "")
    source = "own form, 45 degree flanks (computed)"
    return Thread(name, "printed", major_mm, pitch_mm, starts, profile, profile, source)


def metric_thread(major_mm: float, pitch_mm: float, starts: int = 1) -> Thread:
    """ISO metric by ISO 68-1: H = 0.866025 P, crest flat P/8, external root arc H/6, internal flat P/4."""
    height = 0.5 * math.sqrt(3.0) * pitch_mm
    top = 0.5 * major_mm
    pitch_radius, flank, lead = top - 0.375 * height, math.pi / 6.0, pitch_mm * starts
    male = ThreadProfile(
        pitch_mm, pitch_radius, flank, top, top - 17.0 / 24.0 * height, lead, round_bottom=True
    )
    female = ThreadProfile(pitch_mm, pitch_radius, flank, top, top - 0.625 * height, lead)
    source = "ISO 68-1 textbook formulas (from memory)"
    return Thread(f"M{major_mm:g}x{pitch_mm:g}", "metric", major_mm, pitch_mm, starts, male, female, source)


def trapezoidal_clearance_mm(pitch_mm: float) -> float:
    """Crest clearance ac by ISO 2901 to 2904, from the row of the threads table that holds the pitch.

    Raises
    ------
    BadRecipe : a pitch outside the table (1.5 to 44 mm).
    """
    for row in table("threads")["trapezoidal_clearance"]["rows"]:
        if row["pitch_from_mm"] <= pitch_mm <= row["pitch_to_mm"]:
            return float(row["ac_mm"])
    raise BadRecipe(
        f"A trapezoidal thread of pitch {pitch_mm:g} mm is not in ISO 2902's range.",
        Where("recipe", key="port.pitch_mm"),
        "Use a pitch of 1.5, or 2 to 44 mm.",
    )


def trapezoidal_thread(major_mm: float, pitch_mm: float, starts: int = 1) -> Thread:
    """ISO trapezoidal: 30 degrees included; d3 = d - P - 2 ac, D1 = d - P, D4 = d + 2 ac, d2 = d - P/2."""
    clearance = trapezoidal_clearance_mm(pitch_mm)
    top = 0.5 * major_mm
    pitch_radius, flank, lead = top - 0.25 * pitch_mm, math.radians(15.0), pitch_mm * starts
    male = ThreadProfile(pitch_mm, pitch_radius, flank, top, top - 0.5 * pitch_mm - clearance, lead)
    female = ThreadProfile(pitch_mm, pitch_radius, flank, top + clearance, top - 0.5 * pitch_mm, lead)
    source = "ISO 2901 to 2904 (relations verified by secondary pages, ac values from memory)"
    name = f"Tr {major_mm:g}x{pitch_mm * starts:g}" + (f" P{pitch_mm:g}" if starts > 1 else "")
    return Thread(name, "trapezoidal", major_mm, pitch_mm, starts, male, female, source)


def round_thread(major_mm: float, per_inch: float, starts: int = 1) -> Thread:
    """Round thread by DIN 405 relations (from memory).

    d3 = d - P, D1 = d - 0.9 P, D4 = d + 0.1 P, d2 = d - P/2. All ends are arcs tangent to the 15 degree
    flanks, which gives R1 = 0.2385 P, R2 = 0.2560 P, R3 = 0.2210 P.
    """
    pitch = INCH_MM / per_inch
    top = 0.5 * major_mm
    pitch_radius, flank, lead = top - 0.25 * pitch, math.radians(15.0), pitch * starts
    male = ThreadProfile(pitch, pitch_radius, flank, top, top - 0.5 * pitch, lead, True, True)
    female = ThreadProfile(
        pitch, pitch_radius, flank, top + 0.05 * pitch, top - 0.45 * pitch, lead, True, True
    )
    source = "DIN 405 relations FROM MEMORY, not checked against DIN 405 or EN 148-1"
    return Thread(f'Rd {major_mm:g}x1/{per_inch:g}"', "round", major_mm, pitch, starts, male, female, source)


def thread_of(form: str, major_mm: float, pitch_mm: float, starts: int = 1) -> Thread:
    """A thread by the word used in recipes: printed, metric, trapezoidal or rd40.

    Raises
    ------
    BadRecipe : an unknown form, or a pitch the form does not have.
    """
    if form == "rd40":
        return round_thread(40.0, 7.0)
    makers = {"printed": printed_thread, "metric": metric_thread, "trapezoidal": trapezoidal_thread}
    if form not in makers:
        raise BadRecipe(
            f"There is no thread form {form!r}.",
            Where("recipe", key="port.kind"),
            "Use printed, metric, trapezoidal or rd40.",
        )
    return makers[form](major_mm, pitch_mm, starts)

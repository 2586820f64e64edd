"""What is asked of a contact sum, and what comes out of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Remark
from ..limits import limit
from ..mesh import Bools, Floats
from ..settings import quantity, section
from .foundation import FoundationSettings

CAPILLARY_KPA = limit("skin_pressure").value
"""Capillary closing pressure, see the table of limits."""


@dataclass(frozen=True)
class ContactSettings:
    """How contact is computed and judged."""

    foundation: FoundationSettings = section(FoundationSettings, "Skin and soft layer.")
    friction: float = quantity(
        0.5,
        "1",
        0.0,
        2.0,
        "Friction between skin and band: what the skin may be asked to hold sideways, as a share of the "
        "pressing "
        "force. Dry skin on plastic 0.3 to 0.6, on silicone up to 1 (from memory).",
    )
    seal_margin_pa: float = quantity(
        101.0,
        "Pa",
        0.0,
        2000.0,
        "Pressure by which the band must exceed the air pressure in the mask to hold it: 1.01 +/- 0.41 hPa "
        "(V46, doi 10.1016/j.jbiomech.2009.10.029).",
    )
    breath_pa: float = quantity(
        245.2,
        "Pa",
        0.0,
        2000.0,
        "Gauge pressure in the mask against which stations must hold: 25 mmH2O (V29).",
    )
    breath_l_min: float = quantity(
        85.0,
        "L/min",
        10.0,
        300.0,
        "Flow of breathing out against which the mask must hold in every head position; its pressure "
        "follows from "
        "the medium and the valve. 85 L/min: 42 CFR 84.172, and about the peak of a breath at 27 L/min.",
    )
    turn_limit_deg: float = quantity(
        20.0, "deg", 1.0, 45.0, "Turn of the mask above which the small-motion sum no longer holds."
    )
    shift_limit_mm: float = quantity(
        25.0, "mm", 1.0, 100.0, "Shift of the mask above which it is taken to have slid off its place."
    )


@dataclass(frozen=True, eq=False)
class ContactResult:
    """A mask in balance on a face.

    Attributes
    ----------
    pressure_kpa : (n,) never negative.
    residual_gap_mm : (n,) open distance after balance; 0 where it touches.
    indent_mm : (n,) how far the skin itself is pressed in.
    shift_mm, turn_deg : (3,) motion of the mask about `about_mm` from the designed pose.
    about_mm : (3,) centre of the band.
    station_pressure_kpa : (s,) highest pressure of each station.
    station_gap_mm : (s,) smallest open distance of each station.
    share_closed : share of the seal line (by length) whose stations touch with pressure.
    share_held : share whose stations press harder than breath pressure plus the seal margin.
    pull_n : size of the resultant of the straps.
    contact_n : sum of pressure times area.
    sideways_n : what the skin holds along itself: the resultant, or its moment over the reach of the band.
    contact_mm2 : area that touches.
    peak_kpa, mean_kpa : highest pressure, and the mean over the area that touches.
    peak_index : the point of the highest pressure.
    largest_strain : largest indentation as a share of the tissue thickness.
    residual, work_residual : unbalanced load and work, as shares of the load.
    iterations : Newton steps.
    remarks : what the maker should know.
    """

    pressure_kpa: Floats
    residual_gap_mm: Floats
    indent_mm: Floats
    shift_mm: Floats
    turn_deg: Floats
    about_mm: Floats
    station_pressure_kpa: Floats
    station_gap_mm: Floats
    share_closed: float
    share_held: float
    pull_n: float
    contact_n: float
    sideways_n: float
    contact_mm2: float
    peak_kpa: float
    mean_kpa: float
    peak_index: int
    largest_strain: float
    residual: float
    work_residual: float
    iterations: int
    remarks: tuple[Remark, ...]

    @property
    def motion(self) -> Floats:
        """Shift (mm) and turn (rad) as one vector (6,), to start a further solve from."""
        return np.concatenate([self.shift_mm, np.radians(self.turn_deg)])

    @property
    def station_closed(self) -> Bools:
        """Stations (s,) where any point across the band touches with pressure."""
        return self.station_pressure_kpa > 0.0

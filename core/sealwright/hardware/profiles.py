"""Thread profiles as numbers and as polylines: flats or tangent arcs between straight flanks.

Every profile here is symmetric, so it is fixed by pitch, pitch radius, flank angle and its two end radii.
Widths are those of the ridge of the male part; the space in a female part is the same shape, a little larger.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..errors import DoesNotFit, Where
from ..mesh import Floats

ARC_STEPS = 4  # chords per half arc: at R 0.93 mm and 75 degrees they lie 0.013 mm inside the arc


@dataclass(frozen=True)
class ThreadProfile:
    """A symmetric thread ridge in an axial section.

    Attributes
    ----------
    pitch_mm : axial distance from ridge to ridge.
    pitch_radius_mm : radius at which ridge and space are equally wide, before ``offset_mm``.
    flank_rad : angle of a flank from the plane across the axis (half the included angle), 0 < flank < pi/2.
    top_radius_mm, bottom_radius_mm : end radii of the ridge and of the space between ridges, before the
        offset.
    round_top, round_bottom : end in an arc tangent to both flanks instead of a flat.
    lead_mm : advance per turn; a steep helix tilts the flank, so a normal offset moves it further along the
        axis.
    offset_mm : the whole surface moved along its outward normal (clearance, coating).
    """

    pitch_mm: float
    pitch_radius_mm: float
    flank_rad: float
    top_radius_mm: float
    bottom_radius_mm: float
    lead_mm: float = 0.0
    round_top: bool = False
    round_bottom: bool = False
    offset_mm: float = 0.0

    def moved_out(self, offset_mm: float) -> ThreadProfile:
        """The profile moved further along its outward normal; negative moves it in."""
        return replace(self, offset_mm=self.offset_mm + offset_mm)

    @property
    def top_mm(self) -> float:
        """Largest radius with the offset."""
        return self.top_radius_mm + self.offset_mm

    @property
    def bottom_mm(self) -> float:
        """Smallest radius with the offset."""
        return self.bottom_radius_mm + self.offset_mm

    def width_mm(self, radius_mm: float) -> float:
        """Axial width of the ridge between its flanks at a radius, mm (flanks taken as endless)."""
        slope = math.tan(self.flank_rad)
        climb = self.lead_mm / (2.0 * math.pi * self.bottom_radius_mm)  # steepest at the root
        axial_shift = self.offset_mm * math.sqrt(1.0 + slope * slope + climb * climb)
        return 0.5 * self.pitch_mm + 2.0 * axial_shift - 2.0 * (radius_mm - self.pitch_radius_mm) * slope

    def half_line(self) -> Floats:
        """Corners (k, 2), axial position and radius in mm, from mid-ridge (0) to mid-space (half a pitch).

        A flat has its one corner; an arc also has the point on its middle, at 0 or half a pitch.

        Raises
        ------
        DoesNotFit : the flanks meet before the ridge or the space between ridges ends.
        """
        ridge, space = self.width_mm(self.top_mm), self.pitch_mm - self.width_mm(self.bottom_mm)
        top = self._end(self.top_mm, ridge, self.round_top)
        bottom = self._end(self.bottom_mm, space, self.round_bottom, up=False)
        bottom[:, 0] = 0.5 * self.pitch_mm - bottom[:, 0]
        line = np.vstack([top, bottom[::-1]])
        if min(ridge, space, np.diff(line[:, 0]).min()) <= 0 or np.diff(line[:, 1]).max() > 1e-12:
            raise DoesNotFit(
                f"The thread profile of pitch {self.pitch_mm:.3f} mm, radii {self.bottom_mm:.3f} to "
                f"{self.top_mm:.3f} mm does not close: its flanks meet before it ends.",
                Where("thread", key="port.pitch_mm"),
                "Reduce clearance or coating, or take a larger pitch.",
            )
        return line

    def _end(self, radius_mm: float, flat_mm: float, arc: bool, up: bool = True) -> Floats:
        """From the middle of an end to its flank: the corner of a flat, or the chords of the tangent arc."""
        if not arc:
            return np.array([[0.5 * flat_mm, radius_mm]])
        # Flanks meet at an apex; the arc touches both and ends at radius_mm: apex gap = R (1/sin a - 1).
        sign = 1.0 if up else -1.0
        apex_gap = 0.5 * flat_mm / math.tan(self.flank_rad)
        bend = apex_gap / (1.0 / math.sin(self.flank_rad) - 1.0)
        turn = np.linspace(0.0, 0.5 * math.pi - self.flank_rad, ARC_STEPS + 1)
        return np.column_stack([bend * np.sin(turn), radius_mm - sign * bend * (1.0 - np.cos(turn))])

    def line(self) -> Floats:
        """The corners of one pitch (k, 2), positions from mid-ridge (0) to just before the next mid-ridge."""
        half = self.half_line()
        mirrored = half[::-1] * (-1.0, 1.0) + (self.pitch_mm, 0.0)
        shared = mirrored[:, 0] == half[-1, 0]  # the middle of an arc in the space
        both = np.vstack([half, mirrored[~shared]])
        return both[both[:, 0] < self.pitch_mm]

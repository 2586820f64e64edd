"""Heights and radii of a holder, laid out from the medium, the grid and the port it screws on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import BadRecipe, DoesNotFit, Where
from ..mesh import Floats
from . import grid
from .allowance import Allowance
from .options import HolderSettings, PortSettings
from .outlines import Seat, seat_of
from .port_male import PILOT_MM, MaleLayout, male_layout, port_gland
from .port_parts import EDGE_MM
from .retainer import CATCH_MM
from .rings import FaceGland

LAYER_MM = 0.2  # the usual layer
RELIEF_HEIGHT_MM = 0.8  # of the thread relief at the land
RUN_OUT_MM = EDGE_MM + PILOT_MM  # plain end of the port before its lead-in
HOLDER_ROOM_MM = 4.0  # round the rim, for the frame and for fingers
BEHIND_RIM_MM = CATCH_MM + 0.3  # behind the rim, for the beads of the frame
LEAST_GRIP_MM = 0.4  # height of the grip's waves at least
SKIRT_GAP_MM = 0.6  # between the cap's rim and the cone of the port


@dataclass(frozen=True)
class HolderLayout:
    """Heights (from the bed) and radii of a holder in its print frame, mm.

    Attributes
    ----------
    seat, port : the medium's outline, and the port's layout in the port frame.
    rings, roof : the grid, and the roof over the channels.
    back, land, top : heights of the shell's back at the bore, of the land on the port, and of the cap's rim.
    skirt_radius, bore_radius : outside of the cap, and its bore.
    gland : the gland in the land, or None when the port has it or there is no O-ring.
    thread_depth : radial depth of the female thread.
    """

    seat: Seat
    port: MaleLayout
    rings: list[grid.Tier]
    roof: grid.Roof
    back: float
    land: float
    top: float
    skirt_radius: float
    bore_radius: float
    gland: FaceGland | None
    thread_depth: float

    @property
    def z_out(self) -> float:
        """Height of the bed face in the port frame."""
        return self.port.land + self.land

    @property
    def engaged_turns(self) -> float:
        """Turns over which the ridges of cap and port overlap at half their depth when the cap is home.

        Both threads run in and out at 45 degrees over their whole depth, see `port_male` and `holder`.
        """
        port, half = self.port, 0.5 * self.thread_depth
        run_in = 0.5 * (port.crest_radius - port.root_radius) + port.root_radius - port.relief_radius
        low = max(port.thread_low + run_in, self.z_out - self.top + half)
        high = min(port.length - RUN_OUT_MM - run_in, port.land - RELIEF_HEIGHT_MM - half)
        return max(high - low, 0.0) / port.thread.pitch_mm

    @property
    def to_port(self) -> Floats:
        """4x4 from print frame to port frame: half a turn about X, then along the axis."""
        turn = np.diag([1.0, -1.0, -1.0, 1.0])
        turn[2, 3] = self.z_out
        return turn


def holder_layout(settings: HolderSettings, port: PortSettings, allowance: Allowance) -> HolderLayout:
    """Lay out a holder.

    Raises
    ------
    BadRecipe : the port has no external printed thread to screw on.
    DoesNotFit : the medium is too small for the thread, or the land too narrow for the shell.
    """
    if port.kind not in ("printed", "metric", "trapezoidal"):
        raise BadRecipe(
            f"A holder needs a port with a printed external thread; the port is of kind {port.kind}.",
            Where("recipe", key="port.kind"),
            "Set the port to printed, metric or trapezoidal, or leave the holder out.",
        )
    plan, seat = male_layout(port, allowance), seat_of(settings)
    female = plan.thread.female.moved_out(allowance.female_offset_mm)
    skirt, depth = female.top_mm + settings.wall_mm, female.top_mm - female.bottom_mm
    if seat.least_half_mm(settings.land_mm) + settings.wall_mm < skirt:
        raise DoesNotFit(
            f"A medium of {2 * seat.least_half_mm():.0f} mm with a land of {settings.land_mm:.1f} mm is "
            f"smaller than the cap of {2 * skirt:.1f} mm diameter.",
            Where("holder", key="holder.disc_mm" if seat.disc else "holder.pad_width_mm"),
            f"Use {2 * (skirt - settings.wall_mm + settings.land_mm):.0f} mm or more, or a smaller thread.",
        )
    _refuse_narrow_land(settings, seat)
    reach = seat.reach_mm(settings.land_mm)
    rings = grid.tiers(reach, settings.opening_mm, settings.bar_mm)
    roof = grid.roof_of(settings, plan.bore_radius, rings)
    _refuse_low_plenum(settings, rings, roof)
    back = _on_layer(roof.high_mm + settings.roof_mm)
    gland = port_gland(port, allowance, plan) if port.gland_side == "cap" else None
    land = _on_layer(back + max(settings.neck_mm, gland.depth_mm if gland is not None else 0.0))
    top = land + plan.land - plan.relief_low - SKIRT_GAP_MM
    return HolderLayout(seat, plan, rings, roof, back, land, top, skirt, plan.bore_radius, gland, depth)


def _on_layer(height_mm: float) -> float:
    """The next height that is a whole number of layers: large level faces then print where they are drawn."""
    return LAYER_MM * math.ceil(height_mm / LAYER_MM - 1e-6)


def _refuse_low_plenum(settings: HolderSettings, rings: list[grid.Tier], roof: grid.Roof) -> None:
    """Under the leaning ribs every channel must keep open sides."""
    lacking = grid.lacking_height_mm(rings, settings, roof, LAYER_MM)
    if lacking > 0.0:
        raise DoesNotFit(
            f"Air channels {settings.plenum_mm:.1f} mm high have no room for ribs that lean towards each "
            f"other over openings of {settings.opening_mm:.1f} mm.",
            Where("holder", key="holder.plenum_mm"),
            f"Use {math.ceil(10.0 * (settings.plenum_mm + lacking)) / 10.0:.1f} mm or more, or smaller "
            "openings.",
        )


def _refuse_narrow_land(settings: HolderSettings, seat: Seat) -> None:
    """Behind the rim the shell must leave room for the catch of the frame."""
    least = settings.wall_mm + BEHIND_RIM_MM + (LEAST_GRIP_MM if seat.disc else 0.0)
    if settings.land_mm < least or settings.land_mm < settings.glue_width_mm + 1.6:
        raise DoesNotFit(
            f"A land of {settings.land_mm:.1f} mm leaves no room for the wall behind it ({least:.1f} "
            f"mm) or for the groove with its walls ({settings.glue_width_mm + 1.6:.1f} mm).",
            Where("holder", key="holder.land_mm"),
            f"Use {max(least, settings.glue_width_mm + 1.6):.1f} mm or more.",
        )

"""A blind cap for a port with an external thread that carries no filter; printed closed end down."""

from __future__ import annotations

from ..solids.boolean import Solid, difference, union
from ..solids.primitives import lofted, revolved, tube
from .allowance import Allowance
from .holder_layout import RELIEF_HEIGHT_MM, SKIRT_GAP_MM
from .knurl import grip_outline
from .options import PortSettings
from .port_male import male_layout, port_gland
from .port_parts import EDGE_MM
from .screw import Helix, screw

PLATE_MM = 1.6  # closed end over the land or the gland: eight layers
CAP_ROLE = "port cap"
WALL_MM = 1.8  # round the thread, as of a holder


def port_cap(settings: PortSettings, allowance: Allowance) -> Solid:
    """The cap in the port frame, screwed home.

    Raises
    ------
    DoesNotFit : bore, thread and gland of the port contradict each other.
    BadRecipe : an unknown ring.
    """
    plan = male_layout(settings, allowance)
    gland = port_gland(settings, allowance, plan) if settings.gland_side == "cap" else None
    profile = plan.thread.female.moved_out(allowance.female_offset_mm)
    top, bottom = profile.top_mm, profile.bottom_mm
    depth, land = top - bottom, plan.land
    low, high = plan.relief_low + SKIRT_GAP_MM, land + PLATE_MM + (gland.depth_mm if gland else 0.0)
    outline = grip_outline(top + WALL_MM, "knurl")
    smaller = outline * (1.0 - EDGE_MM / (top + WALL_MM))
    body = lofted([outline, outline, smaller], [low, high - EDGE_MM, high], CAP_ROLE)
    helix = Helix(profile.line(), plan.thread.pitch_mm, plan.thread.starts, plan.crest_phase)
    envelope = [(0.0, low - 1.0), (top + 1.0, low - 1.0), (top + 1.0, land), (0.0, land)]
    thread = screw(helix, envelope, "cap thread", settings.segments, female=True)
    foot = land - RELIEF_HEIGHT_MM
    relief = [
        (0.0, foot - 0.5 - depth),
        (bottom - 0.5, foot - 0.5 - depth),
        (top, foot),
        (top, land),
        (0.0, land),
    ]
    lead_in = [
        (0.0, low - 0.5),
        (top + 0.5, low - 0.5),
        (bottom - 0.5, low + depth + 0.5),
        (0.0, low + depth + 0.5),
    ]
    hollow = union(
        "cap thread", thread, revolved(relief, "thread relief"), revolved(lead_in, "thread lead-in")
    )
    cutters = [hollow]
    if gland is not None:
        inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
        cutters.append(tube(inner, outer, land - 0.5, land + gland.depth_mm, "gland"))
    return difference(CAP_ROLE, body, *cutters)

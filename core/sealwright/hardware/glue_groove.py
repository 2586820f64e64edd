"""The groove that holds the glue between medium and holder.

It opens to the bed in the print, so its roof is pitched at 45 degrees to a narrow ridge: nothing bridges.
"""

from __future__ import annotations

from ..errors import DoesNotFit, Where
from ..solids.boolean import Solid, difference
from ..solids.primitives import lofted
from .options import HolderSettings
from .outlines import Seat

RIDGE_MM = 0.3  # flat left at the ridge: under one nozzle line


def groove_cutter(seat: Seat, settings: HolderSettings) -> Solid:
    """The groove along the middle of the land, cut from the bed side (print frame: bed at z = 0)."""
    outer, inner = _insets(settings)
    middle, ridge, top = 0.5 * (outer + inner), 0.5 * RIDGE_MM, settings.glue_depth_mm
    side = _side(settings)
    rise = middle - ridge - outer
    band = lofted([seat.inset(d) for d in (outer, outer, middle - ridge)], [-1.0, side, top], "glue groove")
    # The core runs on past both ends of the band on the same slope.
    core = lofted(
        [seat.inset(d) for d in (inner, inner, middle + ridge - 0.5 * rise)],
        [-2.0, side, top + 0.5 * rise],
        "glue groove core",
    )
    return difference("glue groove", band, core)


def _side(settings: HolderSettings) -> float:
    """Height of the upright sides, mm.

    Raises
    ------
    DoesNotFit : the groove is too shallow for its width.
    """
    side = settings.glue_depth_mm - 0.5 * (settings.glue_width_mm - RIDGE_MM)
    if side < 0.1:
        least = settings.glue_depth_mm - side + 0.1
        raise DoesNotFit(
            f"A glue groove {settings.glue_width_mm:.1f} mm wide with a roof pitched at 45 degrees is at "
            f"least {least:.2f} mm deep; {settings.glue_depth_mm:.2f} mm are asked.",
            Where("holder", key="holder.glue_depth_mm"),
            f"Use {least:.2f} mm or more, or a narrower groove.",
        )
    return side


def groove_volume_mm3(seat: Seat, settings: HolderSettings) -> float:
    """Glue the groove takes, mm3: its section times the way of its middle, which is area over width."""
    outer, inner = _insets(settings)
    way = (seat.area_mm2(outer) - seat.area_mm2(inner)) / settings.glue_width_mm
    return way * groove_section_mm2(settings)


def groove_section_mm2(settings: HolderSettings) -> float:
    """Section of the groove: upright part and pitched roof, mm2."""
    side, width = _side(settings), settings.glue_width_mm
    return width * side + 0.5 * (width + RIDGE_MM) * (settings.glue_depth_mm - side)


def _insets(settings: HolderSettings) -> tuple[float, float]:
    """Insets of the outer and inner wall from the edge of the medium, mm."""
    return 0.5 * (settings.land_mm - settings.glue_width_mm), 0.5 * (
        settings.land_mm + settings.glue_width_mm
    )

"""The groove that holds the glue between medium and holder."""

from __future__ import annotations

from ..solids.boolean import Solid, difference
from ..solids.primitives import prism
from .options import HolderSettings
from .outlines import Seat


def groove_cutter(seat: Seat, settings: HolderSettings) -> Solid:
    """The groove along the middle of the land, cut from the bed side (print frame: bed at z = 0)."""
    outer, inner = _insets(settings)
    band = prism(seat.inset(outer), -1.0, settings.glue_depth_mm, "glue groove")
    core = prism(seat.inset(inner), -2.0, settings.glue_depth_mm + 1.0, "glue groove core")
    return difference("glue groove", band, core)


def groove_volume_mm3(seat: Seat, settings: HolderSettings) -> float:
    """Glue the groove takes, mm3: area between its walls times its depth."""
    outer, inner = _insets(settings)
    return (seat.area_mm2(outer) - seat.area_mm2(inner)) * settings.glue_depth_mm


def _insets(settings: HolderSettings) -> tuple[float, float]:
    """Insets of the outer and inner wall from the edge of the medium, mm."""
    return 0.5 * (settings.land_mm - settings.glue_width_mm), 0.5 * (
        settings.land_mm + settings.glue_width_mm
    )

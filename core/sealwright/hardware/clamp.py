"""How the edge of the medium is pressed: a ridge of the frame over a groove of the holder, without glue.

The frame's ring presses the medium on the holder's land; its ridge presses it into the groove that would
otherwise take the glue. Heights are those of the holder's print frame: land at z = 0, medium below it.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import BadRecipe, Where
from ..solids.boolean import Solid, difference
from ..solids.primitives import lofted
from .options import HolderSettings
from .outlines import Seat

MOST_SQUEEZE_MM = 0.6  # a thick pack is not pressed flat
RIDGE_TIP_MM = 0.5  # a little more than one printed line
RIDGE_MM = (0.3, 0.8)  # least and largest height of the ridge over the ring that carries it
RIDGE_SHARE = 0.6  # of the medium's thickness
SLOPE = 0.6  # half width gained per height: 31 degrees from the vertical


@dataclass(frozen=True)
class Clamp:
    """Sizes of a pressed edge, mm.

    Attributes
    ----------
    squeeze : how much thinner the medium is under the ring than free.
    face : height of the ring's face; the medium lies between it and the land.
    ridge : height of the ridge over that face.
    """

    squeeze: float
    face: float
    ridge: float


def pressed_edge(settings: HolderSettings) -> bool:
    """Whether a frame presses the edge of the medium.

    Raises
    ------
    BadRecipe : a pressed edge without a frame.
    """
    if settings.edge_seal == "pressed" and settings.retainer == "none":
        raise BadRecipe(
            "Without a frame nothing presses the edge of the medium.",
            Where("recipe", key="holder.edge_seal"),
            "Set holder.edge_seal to glued or null, or holder.retainer to snap or screw.",
        )
    return settings.edge_seal != "glued" and settings.retainer != "none"


def clamp_of(settings: HolderSettings) -> Clamp:
    """Squeeze, ring face and ridge for a medium; a glued edge has neither squeeze nor ridge."""
    thick = settings.medium_thickness_mm
    if not pressed_edge(settings):
        return Clamp(0.0, -thick, 0.0)
    squeeze = min(0.01 * settings.squeeze_percent * thick, MOST_SQUEEZE_MM)
    low, high = RIDGE_MM
    return Clamp(squeeze, squeeze - thick, min(max(RIDGE_SHARE * thick, low), high))


def ridge_solid(seat: Seat, settings: HolderSettings, clamp: Clamp) -> Solid:
    """The ridge along the middle of the land, its foot 0.2 mm inside the ring."""
    middle, foot, tip = 0.5 * settings.land_mm, clamp.face - 0.2, clamp.face + clamp.ridge
    half = 0.5 * RIDGE_TIP_MM
    wide = half + SLOPE * (tip - foot)
    band = lofted([seat.inset(middle - wide), seat.inset(middle - half)], [foot, tip], "ridge")
    run = 0.1  # the core runs on past both ends on its own slope
    core = lofted(
        [seat.inset(middle + wide + SLOPE * run), seat.inset(middle + half - SLOPE * run)],
        [foot - run, tip + run],
        "ridge core",
    )
    return difference("ridge", band, core)

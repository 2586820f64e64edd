"""Where a port stands: its frame in front of the mouth, aimed by tilt and turn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..errors import LandmarkMissing, Where
from ..hardware.options import PortSettings, carried, own_disc
from ..mesh import Floats
from ..settings import optional_quantity, quantity, section, switch
from .axis_frame import axis_along, frame_along

USUAL_TILT_DEG = 15.0


@dataclass(frozen=True)
class PortPlaceSettings:
    """One port and its place."""

    front_mm: float = quantity(
        18.0, "mm", 12.0, 90.0, "From the closed lips along the axis to where the boss begins."
    )
    further_out: bool = switch(
        True, "Let the first port stand further out than that where overhang limit and clearance need it."
    )
    tilt_deg: float | None = optional_quantity(
        "deg",
        -30.0,
        60.0,
        15.0,
        "Axis below the horizontal; 10 to 20 is usual. Automatic: where the first port hangs nearest.",
    )
    turn_deg: float = quantity(
        0.0,
        "deg",
        -80.0,
        80.0,
        "Axis towards the wearer's left. A further port looks for room near it on the wall.",
    )
    raise_mm: float | None = optional_quantity(
        "mm",
        -25.0,
        25.0,
        0.0,
        "Axis above the line between the lips. Automatic: where the first port hangs nearest.",
    )
    carries: str | None = carried()
    disc_mm: float | None = own_disc()
    connection: PortSettings = section(PortSettings, "What connects there.")


def mouth_middle(landmarks: Mapping[str, Floats]) -> Floats:
    """The point between the mouth corners (3,) mm, brought forward to the lips' depth where known.

    Raises
    ------
    LandmarkMissing : no mouth corners.
    """
    try:
        middle = (np.asarray(landmarks["cheilion_left"]) + np.asarray(landmarks["cheilion_right"])) / 2.0
    except KeyError as missing:
        raise LandmarkMissing(
            f"The port stands in front of the mouth, but {missing.args[0]} was not found.",
            Where("landmarks", key=str(missing.args[0])),
            "Set both mouth corners by hand.",
        ) from missing
    # Subnasale is the origin; closed lips stand about as far forward as it does.
    lips = landmarks.get("stomion", np.array([middle[0], 0.0, middle[2]]))
    return np.array([middle[0], float(lips[1]), middle[2]], dtype=np.float64)


def aimed(place: PortPlaceSettings) -> tuple[float, float]:
    """Tilt and raise of a port, the usual ones where they are automatic."""
    tilt = USUAL_TILT_DEG if place.tilt_deg is None else place.tilt_deg
    return tilt, 0.0 if place.raise_mm is None else place.raise_mm


def port_frame(mouth: Floats, place: PortPlaceSettings) -> Floats:
    """The 4x4 port frame in the face frame: +Z out of the mask along the axis, +Y up, origin at the boss."""
    tilt_deg, raise_mm = aimed(place)
    axis = axis_along(tilt_deg, place.turn_deg)
    return frame_along(mouth + np.array([0.0, 0.0, raise_mm]) + axis * place.front_mm, axis)

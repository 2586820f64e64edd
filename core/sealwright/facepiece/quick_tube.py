"""The quick design of the trade: a plain tube of given diameter, trimmed exactly to the face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, OffTheScan, Where
from ..face.face_solid import face_solid
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..settings import quantity
from ..solids.boolean import Solid, difference, pieces
from ..solids.primitives import tube

_SEGMENTS = 256


@dataclass(frozen=True)
class TubeSettings:
    """The plain tube."""

    diameter_mm: float = quantity(90.0, "mm", 20.0, 140.0, "Outer diameter.")
    wall_mm: float = quantity(2.4, "mm", 0.8, 8.0, "Wall thickness.")
    front_mm: float = quantity(
        45.0, "mm", 10.0, 120.0, "From the closed lips to the front end, along the axis."
    )
    stand_off_mm: float = quantity(0.0, "mm", -1.0, 4.0, "Gap to the skin.")


def quick_tube(face: FaceSurface, frame: Floats, settings: TubeSettings) -> tuple[Solid, Floats]:
    """A tube whose back end follows the skin.

    Parameters
    ----------
    face : the face surface.
    frame : 4x4 with +Z along the tube out of the face, origin at the closed lips.
    settings : sizes.

    Returns
    -------
    The tube and its rim (256, 3): where the middle of its wall meets the skin, mm.

    Raises
    ------
    OffTheScan : part of the rim has no skin under it.
    DoesNotFit : the tube ends inside the face.
    """
    outer = settings.diameter_mm / 2.0
    rim = _rim(face, frame, outer - settings.wall_mm / 2.0)
    inverse = np.linalg.inv(frame)
    depth = rim @ inverse[2, :3] + inverse[2, 3]
    if depth.max() >= settings.front_mm:
        x, y, z = rim[int(np.argmax(depth))]
        raise DoesNotFit(
            f"The tube ends {settings.front_mm:.0f} mm in front of the lips, inside the face.",
            Where("tube", point=(float(x), float(y), float(z))),
            "Make the tube longer or move it forward.",
        )
    blank = tube(
        outer - settings.wall_mm, outer, float(depth.min()) - 6.0, settings.front_mm, "tube", _SEGMENTS
    )
    near = np.concatenate([_rim(face, frame, radius) for radius in (outer - settings.wall_mm, outer)])
    cut = difference("tube", blank.moved(frame), face_solid(face, near, StandOff(settings.stand_off_mm), 0.5))
    # Folds of skin can leave slivers behind the rim; the tube is the piece that reaches its front end.
    front = next(part for part in pieces(cut) if _reaches(part, np.asarray(inverse), settings.front_mm))
    return front.named("tube"), rim


def _reaches(part: Solid, inverse: Floats, front: float) -> bool:
    along = part.mesh.vertices @ inverse[2, :3] + inverse[2, 3]
    return bool(along.max() > front - 1e-6)


def _rim(face: FaceSurface, frame: Floats, radius: float) -> Floats:
    """Where lines along the axis at a radius meet the skin (256, 3), mm."""
    angle = 2.0 * np.pi * np.arange(_SEGMENTS) / _SEGMENTS
    start = np.stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros_like(angle)], axis=1)
    base = start @ frame[:3, :3].T + frame[:3, 3]
    axis = frame[:3, 2]
    steps = np.arange(60.0, -90.0, -1.0)
    heights = face.height_of(base[:, None] + axis * steps[None, :, None])
    under = heights < 0
    lost = np.flatnonzero(~under.any(axis=1))
    if len(lost):
        x, y, z = base[lost[0]]
        raise OffTheScan(
            f"Along {100 * len(lost) // _SEGMENTS} % of its rim the tube meets no skin.",
            Where("tube", point=(float(x), float(y), float(z))),
            "Choose a smaller diameter, or rescan with more of the face.",
        )
    low = steps[under.argmax(axis=1)]
    high = low + 1.0
    for _ in range(30):  # bisection to far below the tolerance of the fit
        middle = (low + high) / 2.0
        inside = face.height_of(base + axis * middle[:, None]) < 0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    rim = base + axis * ((low + high) / 2.0)[:, None]
    pq, _ = face.chart.place_of(rim)
    unknown = np.flatnonzero(~face.is_known(pq))
    if len(unknown):
        x, y, z = rim[unknown[0]]
        raise OffTheScan(
            f"Along {100 * len(unknown) // _SEGMENTS} % of its rim the tube leaves the scanned skin.",
            Where("tube", point=(float(x), float(y), float(z))),
            "Choose a smaller diameter, or rescan with more of the face.",
        )
    return np.asarray(rim)


def no_band() -> DoesNotFit:
    """The refusal of a design without a contact band."""
    return DoesNotFit(
        "Only a facepiece has a contact band to predict from; this design is a tube.",
        "design",
        "Set the recipe's kind to body.",
    )

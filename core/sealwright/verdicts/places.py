"""Where the measurements of a finished body are at their worst."""

from __future__ import annotations

import numpy as np

from ..designing.design import Design
from ..mesh import Floats


def worst_places(design: Design) -> dict[str, Floats]:
    """The place (3,) in mm, face frame, by the key of the verdict; only of what has one place."""
    found: dict[str, Floats] = {}
    if design.fit is not None and design.seal_line is not None:
        line = design.seal_line.points
        found["contact.share"] = line[int(np.argmax(np.abs(design.fit.seal_gap)))]
        found["contact.band_width_min_mm"] = line[int(np.argmin(design.fit.width))]
    if design.entry is not None and design.entry.deepest_mm > 0.0:
        found["clearance.entry_mm"] = np.array(design.entry.point)
    if design.clearance is not None:
        found["clearance.nose_lips_mm"] = np.asarray(design.clearance.point)
    if design.wall is not None:
        found["wall.min_mm"] = design.wall.places[int(np.argmin(design.wall.thickness))]
    return found

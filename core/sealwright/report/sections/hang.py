"""Section on what hangs on the face: lever about the nose bridge, and what it hides from the eyes."""

from __future__ import annotations

import numpy as np

from ...checks.sight import sight_below_deg
from ...designing.design import Design
from ...predict.hanging import hanging

_PUPIL_SHARE = 0.5  # between the corners of the eye


def hang_section(design: Design) -> dict[str, object] | None:
    """Centre of mass, moment and sight; None where nothing hangs or a landmark is missing."""
    marks = design.prepared.landmarks
    if not design.parts or "sellion" not in marks:
        return None
    found = hanging(design)
    sights = []
    for side in ("left", "right"):
        inner, outer = marks.get(f"endocanthion_{side}"), marks.get(f"exocanthion_{side}")
        if inner is not None and outer is not None:
            eye = (1.0 - _PUPIL_SHARE) * np.asarray(inner) + _PUPIL_SHARE * np.asarray(outer)
            sights.append(sight_below_deg([solid.mesh for solid in design.parts.values()], eye))
    return {
        "mass_g": found.mass_g,
        "centre_of_mass": [float(c) for c in found.centre_mm],
        "moment_nose_bridge_nmm": found.moment_nmm,
        "sight_below_deg": min(sights) if sights else None,
    }

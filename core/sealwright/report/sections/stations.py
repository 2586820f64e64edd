"""Everything that varies along the seal line, station by station, for the strip chart and for machines."""

from __future__ import annotations

import numpy as np

from ...designing.design import Design
from ...facepiece.closed_curve import arc_lengths
from ...mesh import Floats
from ...predict.result import Prediction
from ...trust.measures import noise_along
from .contact_face import station_steps


def stations_section(design: Design, prediction: Prediction | None) -> dict[str, object] | None:
    """Values along the seal line as lists of equal length; None for a tube."""
    line = design.seal_line
    if line is None:
        return None
    face = design.prepared.face
    along = arc_lengths(line.points)[:-1]
    values: dict[str, object] = {
        "along_mm": along,
        "point_mm": line.points,
        "noise_mm": noise_along(design.prepared.skin, line.points),
        "scanned": face.is_measured(line.pq),
        "gap_mm": design.fit.seal_gap if design.fit is not None else None,
        "width_mm": design.fit.width if design.fit is not None else None,
        "staircase_mm": station_steps(design),
        "pressure_kpa": None,
        "open_gap_mm": None,
        "leak_share": None,
    }
    if prediction is not None and prediction.contact is not None and prediction.fit is not None:
        values["pressure_kpa"] = prediction.contact.station_pressure_kpa
        values["open_gap_mm"] = prediction.contact.station_gap_mm
        values["leak_share"] = prediction.fit.station_share
    return {"marks_mm": marks_along(design, line.points, along), **values}


def marks_along(design: Design, points: Floats, along: Floats) -> dict[str, float]:
    """Where the seal line passes nose, nostril wings, mouth corners and chin, mm along it from the nose."""
    names = {
        "left nostril": "alare_left",
        "left cheek": "cheilion_left",
        "chin": "menton",
        "right cheek": "cheilion_right",
        "right nostril": "alare_right",
    }
    marks = {"nose": 0.0}
    for words, name in names.items():
        place = design.prepared.landmarks.get(name)
        if place is not None:
            marks[words] = float(along[int(np.argmin(np.linalg.norm(points - place, axis=1)))])
    return marks

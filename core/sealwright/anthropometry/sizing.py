"""Measures of a face from its landmarks, against the tables: percentiles and panel cell, with confidence.

Weak: landmarks on a scan are found on the skin without the light pressure of a caliper; sellion and menton
of an automatic proposal are off by a few millimetres; the population behind the tables is the US Army, and
half of the tables is from memory. Sizing never replaces a fit test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import LandmarkMissing, Where
from ..mesh import Floats
from ..settings import check_settings, quantity
from .face_statistics import (
    SEXES,
    cell_chances,
    dimensions,
    length_width_correlation,
    panel_cell,
    percentile,
    sex_index,
)

PAIRS: dict[str, tuple[str, str]] = {
    "face_length": ("sellion", "menton"),
    "face_width": ("zygion_left", "zygion_right"),
    "nose_breadth": ("alare_left", "alare_right"),
    "nose_protrusion": ("subnasale", "pronasale"),
    "nose_length": ("subnasale", "sellion"),
    "lip_length": ("cheilion_left", "cheilion_right"),
}
"""Which two landmarks a dimension runs between; all are straight distances, as a caliper takes them."""


@dataclass(frozen=True)
class SizingSettings:
    """How sure the landmarks are."""

    landmark_error_mm: float = quantity(
        2.0,
        "mm",
        0.1,
        15.0,
        "Standard error of a landmark of full confidence; manual marks about 1, automatic about 2.",
    )


@dataclass(frozen=True)
class Measure:
    """One dimension of the wearer.

    Attributes
    ----------
    name : as in the tables.
    value_mm : None where a landmark is missing.
    error_mm : standard error.
    confidence : 0 to 1, the lower of its landmarks; 0 where it could not be measured.
    percentiles : by sex; empty where it could not be measured.
    table_confidence, source : of the statistics.
    note : what is missing or weak, empty when nothing is.
    """

    name: str
    value_mm: float | None
    error_mm: float
    confidence: float
    percentiles: dict[str, float]
    table_confidence: str
    source: str
    note: str


@dataclass(frozen=True)
class Sizing:
    """The wearer among others.

    Attributes
    ----------
    measures : by name.
    cell : panel cell of the measured face; None outside the panel or without a measured width.
    cell_chances : chance of each cell given the errors of the measures, most likely first.
    confidence : chance of the most likely cell, times that of the landmarks.
    text : one sentence for the report.
    """

    measures: dict[str, Measure]
    cell: int | None
    cell_chances: dict[int, float]
    confidence: float
    text: str


def measure_face(
    landmarks: Mapping[str, ArrayLike | None],
    confidences: Mapping[str, float] | None = None,
    settings: SizingSettings | None = None,
) -> dict[str, Measure]:
    """Dimensions of a face from its landmarks.

    The face width must be measured at the zygions; a silhouette is wider and is not accepted in its place, so
    without zygions the width stays None.

    Parameters
    ----------
    landmarks : name -> (3,) mm; None or absent where a landmark was not found.
    confidences : name -> 0 to 1; absent is taken as 1.
    settings : error of the landmarks.

    Raises
    ------
    LandmarkMissing : sellion or menton are not there, or a landmark is not three finite numbers.
    BadRecipe : a setting or distance out of range.
    """
    chosen = settings or SizingSettings()
    check_settings(chosen, "sizing")
    for name in PAIRS["face_length"]:
        if landmarks.get(name) is None:
            raise LandmarkMissing(
                f"Sizing needs the landmark {name}.",
                Where("landmarks", key=name),
                f"Set the landmark {name}.",
            )
    sure = confidences or {}
    return {name: _measure(name, pair, landmarks, sure, chosen) for name, pair in PAIRS.items()}


def _measure(
    name: str,
    pair: tuple[str, str],
    landmarks: Mapping[str, ArrayLike | None],
    sure: Mapping[str, float],
    chosen: SizingSettings,
) -> Measure:
    row = dimensions()[name]
    ends = [_place(landmarks, key) for key in pair]
    first, second = ends
    if first is None or second is None:
        missing = " and ".join(key for key, end in zip(pair, ends, strict=True) if end is None)
        note = f"not measured: {missing} not set"
        return Measure(name, None, math.inf, 0.0, {}, row.confidence, row.source, note)
    value = float(np.linalg.norm(first - second))
    confidence = min(float(np.clip(sure.get(key, 1.0), 0.0, 1.0)) for key in pair)
    # An unsure landmark errs more; at confidence 0.25 twice as far. Two ends add in squares.
    error = math.sqrt(2.0) * chosen.landmark_error_mm / math.sqrt(max(confidence, 0.01))
    shares = {sex: percentile(name, sex, value) for sex in SEXES}
    return Measure(name, value, error, confidence, shares, row.confidence, row.source, _note(name))


def _note(name: str) -> str:
    if name == "face_width":
        return "a caliper presses the skin on the bone; on a scan the width comes out a little larger"
    if name == "nose_breadth":
        return "alare must be the widest point of the wing; at its crease the breadth comes out 10 mm smaller"
    if name == "nose_protrusion":
        return "straight distance; surveys differ in how they take it"
    return ""


def _place(landmarks: Mapping[str, ArrayLike | None], name: str) -> Floats | None:
    value = landmarks.get(name)
    if value is None:
        return None
    place = np.asarray(value, dtype=np.float64)
    if place.shape != (3,) or not np.isfinite(place).all():
        raise LandmarkMissing(
            f"The landmark {name} is not three finite numbers.",
            Where("landmarks", key=name),
            "Give x, y, z in mm.",
        )
    return place


def size_wearer(
    landmarks: Mapping[str, ArrayLike | None],
    confidences: Mapping[str, float] | None = None,
    sex: str | None = None,
    settings: SizingSettings | None = None,
) -> Sizing:
    """Measures, percentiles and panel cell of a wearer.

    Without a measured width the chances of the cells come from the face length and the width that people of
    that length have; the confidence is then low, and said to be.

    Parameters
    ----------
    landmarks, confidences, settings : see `measure_face`.
    sex : "male", "female" or None; used only to guess a missing width.

    Raises
    ------
    LandmarkMissing, BadRecipe : see `measure_face`; an unknown sex.
    """
    if sex is not None:
        sex_index(sex)
    measures = measure_face(landmarks, confidences, settings)
    length, width = measures["face_length"], measures["face_width"]
    if length.value_mm is None:
        raise LandmarkMissing("Sizing needs sellion and menton.", "landmarks", "Set both landmarks.")
    if width.value_mm is None:
        chances = _mean_of_sexes(length.value_mm, length.error_mm, sex)
        cell, certain = None, length.confidence
    else:
        chances = cell_chances(length.value_mm, length.error_mm, width.value_mm, width.error_mm)
        cell, certain = panel_cell(length.value_mm, width.value_mm), min(length.confidence, width.confidence)
    ordered = dict(sorted(chances.items(), key=lambda item: (-item[1], item[0])))
    confidence = certain * next(iter(ordered.values()))
    return Sizing(measures, cell, ordered, confidence, _text(cell, width.value_mm, ordered))


def _mean_of_sexes(length: float, error: float, sex: str | None) -> dict[int, float]:
    """Chances of the cells with the width that goes with a length, one sex or both alike."""
    chosen = SEXES if sex is None else (sex,)
    total: dict[int, float] = {}
    for one in chosen:
        place, tied = sex_index(one), length_width_correlation(one)
        long, wide = dimensions()["face_length"], dimensions()["face_width"]
        slope = tied * wide.sd_mm[place] / long.sd_mm[place]
        guess = wide.mean_mm[place] + slope * (length - long.mean_mm[place])
        spread = wide.sd_mm[place] * math.sqrt(1.0 - tied * tied)
        for cell, chance in cell_chances(length, error, guess, spread).items():
            total[cell] = total.get(cell, 0.0) + chance / len(chosen)
    return total


def _text(cell: int | None, width: float | None, chances: dict[int, float]) -> str:
    best, chance = next(iter(chances.items()))
    if width is None:
        return (
            f"The face width was not measured at the cheekbones; by the face length alone cell {best} is "
            f"the most "
            f"likely ({100 * chance:.0f} %)."
        )
    if cell is None:
        return f"The face lies outside the panel; the nearest likely cell is {best} ({100 * chance:.0f} %)."
    return f"Panel cell {cell}; allowing for the error of the landmarks {100 * chances[cell]:.0f} % sure."

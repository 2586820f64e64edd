"""Where a face stands among faces: means and spreads by sex, percentiles, cells of the fit-test panel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..errors import BadRecipe, Where
from ..tables import table
from ..values import require_range

SEXES = ("male", "female")


@dataclass(frozen=True)
class Dimension:
    """A face dimension in the tables.

    Attributes
    ----------
    name, text : name and what is measured.
    mean_mm, sd_mm : by sex, in the order of `SEXES`.
    confidence, source : tag and place.
    """

    name: str
    text: str
    mean_mm: tuple[float, float]
    sd_mm: tuple[float, float]
    confidence: str
    source: str


@dataclass(frozen=True)
class PanelCell:
    """A cell of the bivariate panel: half-open ranges [low, high) of face length and width, mm."""

    cell: int
    length_mm: tuple[float, float]
    width_mm: tuple[float, float]
    mean_length_mm: float
    mean_width_mm: float


@cache
def dimensions() -> dict[str, Dimension]:
    """All dimensions of the table by name."""
    return {
        row["name"]: Dimension(
            row["name"],
            row["text"],
            (row["male"]["mean"], row["female"]["mean"]),
            (row["male"]["sd"], row["female"]["sd"]),
            row["confidence"],
            row["source"],
        )
        for row in table("anthropometry")["dimensions"]
    }


@cache
def panel_cells() -> tuple[PanelCell, ...]:
    """The ten cells of the panel."""
    return tuple(
        PanelCell(
            row["cell"], tuple(row["length"]), tuple(row["width"]), row["mean_length"], row["mean_width"]
        )
        for row in table("anthropometry")["panel"]["cells"]
    )


def sex_index(sex: str) -> int:
    """Place of a sex in the tables.

    Raises
    ------
    BadRecipe : neither "male" nor "female".
    """
    if sex not in SEXES:
        raise BadRecipe(
            f"The tables know no sex {sex!r}.",
            Where("wearer", key="sex"),
            "Give male or female, or leave it out.",
        )
    return SEXES.index(sex)


def percentile(name: str, sex: str, value_mm: float) -> float:
    """Percentage of people of a sex whose dimension is smaller, by the normal law.

    Raises
    ------
    BadRecipe : unknown dimension or sex, or a value outside 0 to 400 mm.
    """
    known = dimensions()
    if name not in known:
        raise BadRecipe(
            f"The tables know no dimension {name!r}.",
            Where("wearer", key="dimension"),
            "Use one of: " + ", ".join(known) + ".",
        )
    place = sex_index(sex)
    value = require_range(value_mm, 0.0, 400.0, "mm", name)
    return 100.0 * normal_share((value - known[name].mean_mm[place]) / known[name].sd_mm[place])


def normal_share(z: float) -> float:
    """Share of the standard normal law below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def panel_cell(length_mm: float, width_mm: float) -> int | None:
    """Number of the panel cell that holds a face, or None outside all of them.

    Raises
    ------
    BadRecipe : a value outside 0 to 400 mm.
    """
    length = require_range(length_mm, 0.0, 400.0, "mm", "face_length")
    width = require_range(width_mm, 0.0, 400.0, "mm", "face_width")
    for cell in panel_cells():
        if cell.length_mm[0] <= length < cell.length_mm[1] and cell.width_mm[0] <= width < cell.width_mm[1]:
            return cell.cell
    return None


def cell_chances(
    length_mm: float, length_sd_mm: float, width_mm: float, width_sd_mm: float, correlation: float = 0.0
) -> dict[int, float]:
    """Chance of each panel cell when length and width are only known to some error (two normal laws).

    Integrated over the length in 400 steps, the width given the length in closed form. What is missing to 1
    lies outside the panel.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    length = require_range(length_mm, 0.0, 400.0, "mm", "face_length")
    width = require_range(width_mm, 0.0, 400.0, "mm", "face_width")
    sd_l = require_range(length_sd_mm, 1e-6, 100.0, "mm", "face_length error")
    sd_w = require_range(width_sd_mm, 1e-6, 100.0, "mm", "face_width error")
    tied = require_range(correlation, -0.99, 0.99, "1", "correlation")
    edges = np.linspace(-6.0, 6.0, 401)
    middle = 0.5 * (edges[1:] + edges[:-1])
    density = np.exp(-0.5 * middle**2) * (edges[1] - edges[0]) / math.sqrt(2.0 * math.pi)
    lengths = length + sd_l * middle
    given = width + tied * sd_w * middle
    rest = sd_w * math.sqrt(1.0 - tied * tied)
    chances = {}
    for cell in panel_cells():
        inside = (cell.length_mm[0] <= lengths) & (lengths < cell.length_mm[1])
        low, high = ((edge - given[inside]) / rest for edge in cell.width_mm)
        share = np.array([normal_share(b) - normal_share(a) for a, b in zip(low, high, strict=True)])
        chances[cell.cell] = float((density[inside] * share).sum())
    return chances


def length_width_correlation(sex: str) -> float:
    """Correlation of face length and width within a sex.

    Raises
    ------
    BadRecipe : unknown sex.
    """
    sex_index(sex)
    return float(table("anthropometry")["length_width_correlation"][sex])

"""How stiff the face is under the seal: foundation modulus by region, with ranges and sources."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TypedDict

import numpy as np

from ..errors import BadRecipe, Where
from ..mesh import Floats
from ..settings import check_settings, quantity
from ..tables import table
from .patch import REGIONS


@dataclass(frozen=True)
class SkinSettings:
    """What the maker may know better than the table about the wearer's skin.

    A factor of 1 takes the table value; 2 makes that region twice as stiff.
    """

    nose_bridge_factor: float = quantity(
        1.0, "1", 0.05, 20.0, "Stiffness of the nose bridge, times the table value."
    )
    nose_side_factor: float = quantity(
        1.0, "1", 0.05, 20.0, "Stiffness beside the nose, times the table value."
    )
    cheek_factor: float = quantity(1.0, "1", 0.05, 20.0, "Stiffness of the cheek, times the table value.")
    mouth_side_factor: float = quantity(
        1.0, "1", 0.05, 20.0, "Stiffness beside the mouth, times the table value."
    )
    chin_factor: float = quantity(1.0, "1", 0.05, 20.0, "Stiffness of the chin, times the table value.")
    under_chin_factor: float = quantity(
        1.0, "1", 0.05, 20.0, "Stiffness under the chin, times the table value."
    )
    poisson: float = quantity(
        0.40,
        "1",
        0.0,
        0.47,
        "Effective Poisson ratio of the tissue layer. Tissue is nearly incompressible (0.5), but the layer "
        "can "
        "bulge out at the edges of a band, so a lower effective value; assumption, no source.",
    )
    shear_share: float = quantity(
        0.10,
        "1",
        0.0,
        0.5,
        "Stiffness of the skin against sliding along, as a share of its stiffness against pressing in. An "
        "elastic "
        "layer gives 1/6 at Poisson ratio 0.4; skin also glides on what is under it; assumption, no source.",
    )


@dataclass(frozen=True)
class SkinRow:
    """One region of the table.

    Attributes
    ----------
    region : name.
    modulus_kpa, thickness_mm : (typical, low, high); low and high about the 5th and 95th percentile.
    confidence : the weaker tag of the two.
    source : both sources.
    """

    region: str
    modulus_kpa: tuple[float, float, float]
    thickness_mm: tuple[float, float, float]
    confidence: str
    source: str

    @property
    def log_spread(self) -> float:
        """Standard deviation of the logarithm of the stiffness between people, both spreads together."""
        return math.hypot(_log_sd(self.modulus_kpa), _log_sd(self.thickness_mm))


def _log_sd(triple: tuple[float, float, float]) -> float:
    # 5th to 95th percentile of a normal law is 2 x 1.645 standard deviations.
    return math.log(triple[2] / triple[1]) / (2.0 * 1.645)


@cache
def skin_rows() -> tuple[SkinRow, ...]:
    """The table of the six regions, in the order of `REGIONS`."""
    rows = {row["region"]: row for row in table("skin")["regions"]}
    return tuple(_row(rows[name]) for name in REGIONS)


class _Spread(TypedDict):
    typical: float
    low: float
    high: float
    confidence: str
    source: str


class _TableRow(TypedDict):
    region: str
    modulus_kpa: _Spread
    thickness_mm: _Spread


def _row(row: _TableRow) -> SkinRow:
    modulus, thickness = row["modulus_kpa"], row["thickness_mm"]
    weaker = "M" if "M" in (modulus["confidence"], thickness["confidence"]) else modulus["confidence"]
    return SkinRow(
        row["region"],
        (modulus["typical"], modulus["low"], modulus["high"]),
        (thickness["typical"], thickness["low"], thickness["high"]),
        weaker,
        f"modulus: {modulus['source']}; thickness: {thickness['source']}",
    )


def confined_modulus(modulus_kpa: float, poisson: float) -> float:
    """Modulus of an elastic layer pressed on bone that cannot spread sideways, kPa.

    E (1 - v) / ((1 + v) (1 - 2 v)); K. L. Johnson, Contact Mechanics (1985), section 4.3 (from memory).

    Raises
    ------
    BadRecipe : modulus not above zero, or a Poisson ratio outside 0 to 0.49.
    """
    if not (math.isfinite(modulus_kpa) and modulus_kpa > 0.0 and 0.0 <= poisson <= 0.49):
        raise BadRecipe(
            f"Modulus {modulus_kpa!r} kPa with Poisson ratio {poisson!r} is no elastic layer.",
            Where("physics", key="skin.poisson"),
            "Give a modulus above 0 kPa and a Poisson ratio from 0 to 0.49.",
        )
    return modulus_kpa * (1.0 - poisson) / ((1.0 + poisson) * (1.0 - 2.0 * poisson))


def region_stiffness(settings: SkinSettings | None = None) -> Floats:
    """Foundation modulus of the six regions (6,), kPa per mm of indentation.

    Confined modulus over thickness, times the maker's factors.

    Raises
    ------
    BadRecipe : a setting out of range.
    """
    chosen = settings or SkinSettings()
    check_settings(chosen, "skin")
    values = [
        confined_modulus(row.modulus_kpa[0], chosen.poisson) / row.thickness_mm[0] for row in skin_rows()
    ]
    factors = [getattr(chosen, f"{name}_factor") for name in REGIONS]
    return np.asarray(np.array(values) * np.array(factors))


def region_thickness() -> Floats:
    """Typical tissue thickness of the six regions (6,), mm."""
    return np.array([row.thickness_mm[0] for row in skin_rows()])


def region_spread() -> Floats:
    """Standard deviation of the log stiffness of the six regions between people (6,)."""
    return np.array([row.log_spread for row in skin_rows()])

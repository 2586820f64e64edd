"""How stiff the face is under the seal: the table of sites, with ranges and sources."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TypedDict

from ..settings import quantity
from ..tables import table


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
        0.49,
        "1",
        0.0,
        0.4995,
        "Poisson ratio of the tissue: nearly incompressible (V; see the skin table). How far it can "
        "bulge out "
        "from under a band follows from the band's width over the tissue's thickness.",
    )
    shear_share: float = quantity(
        0.10,
        "1",
        0.0,
        0.5,
        "Stiffness of the skin against sliding along, as a share of its stiffness against pressing in. An "
        "elastic "
        "layer gives about 0.1 to 0.17; skin also glides on what is under it; assumption, no source.",
    )


Triple = tuple[float, float, float]


@dataclass(frozen=True)
class SkinSite:
    """One site of the table.

    Attributes
    ----------
    site, region : its name, and the region it lies in.
    bony : whether bone or gristle lies close under it, where pressure harms first.
    at, offset_mm : landmarks with their shares, and what is added (outward, back, up) on a face 115 mm long.
    modulus_kpa, thickness_mm : (typical, low, high); low and high about the 5th and 95th percentile.
    confidence : the weaker tag of the two.
    source : both sources.
    """

    site: str
    region: str
    bony: bool
    at: dict[str, float]
    offset_mm: Triple
    modulus_kpa: Triple
    thickness_mm: Triple
    confidence: str
    source: str

    @property
    def log_spreads(self) -> tuple[float, float]:
        """Standard deviations of the logarithms of modulus and thickness between people."""
        return log_sd(self.modulus_kpa), log_sd(self.thickness_mm)


def log_sd(triple: Triple) -> float:
    """Standard deviation of the logarithm of a value from its 5th and 95th percentile.

    They lie 2 x 1.645 standard deviations of a normal law apart.
    """
    return math.log(triple[2] / triple[1]) / (2.0 * 1.645)


@cache
def skin_sites() -> tuple[SkinSite, ...]:
    """The table of sites, in its own order."""
    return tuple(_site(row) for row in table("skin")["sites"])


class _Spread(TypedDict):
    typical: float
    low: float
    high: float
    confidence: str
    source: str


class _TableRow(TypedDict):
    site: str
    region: str
    bony: bool
    at: dict[str, float]
    offset_mm: list[float]
    modulus_kpa: _Spread
    thickness_mm: _Spread


def _site(row: _TableRow) -> SkinSite:
    modulus, thickness = row["modulus_kpa"], row["thickness_mm"]
    tags = (modulus["confidence"], thickness["confidence"])
    return SkinSite(
        row["site"],
        row["region"],
        row["bony"],
        row["at"],
        (row["offset_mm"][0], row["offset_mm"][1], row["offset_mm"][2]),
        (modulus["typical"], modulus["low"], modulus["high"]),
        (thickness["typical"], thickness["low"], thickness["high"]),
        next(tag for tag in "MCV" if tag in tags),
        f"modulus: {modulus['source']}; thickness: {thickness['source']}",
    )

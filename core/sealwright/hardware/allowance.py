"""What is added to a nominal size so that the printed part has it: running clearance, coating, shrinkage.

The three never mix. Clearance opens the female part of a pair. Coating makes room on every mating surface
that is coated. Shrinkage is a factor on the whole part, applied once when the part is laid out for printing;
the solids of this package have their finished size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..errors import BadRecipe, Where
from ..settings import quantity, text
from ..tables import table


@dataclass(frozen=True)
class AllowanceSettings:
    """The maker's allowances; the recipe has one such section."""

    clearance_mm: float = quantity(
        0.4,
        "mm",
        0.0,
        1.2,
        "Running clearance on diameter between printed parts that screw or slide together.",
    )
    coating_mm: float = quantity(
        0.0, "mm", 0.0, 0.5, "Thickness of a coating on the printed surfaces, each surface."
    )
    material: str = text(
        "petg", "Key of the rigid material in the materials table; gives shrinkage and density."
    )
    shrinkage_percent: float = quantity(
        -1.0, "%", -1.0, 4.0, "Linear shrinkage from a printed coupon; -1 takes the table's value."
    )


@dataclass(frozen=True)
class Allowance:
    """Resolved allowances.

    Attributes
    ----------
    clearance_mm : running clearance on diameter; the female part of a pair is opened by it.
    coating_mm : coating thickness per surface; males shrink and females grow by it, normal to the surface.
    shrink_share : linear shrinkage of the material (0.004 = 0.4 %), for `print_scale` only.
    material : key in the materials table.
    """

    clearance_mm: float = 0.4
    coating_mm: float = 0.0
    shrink_share: float = 0.0
    material: str = "petg"

    @property
    def gap_mm(self) -> float:
        """Gap per side, normal to the surface, between finished and coated parts: half the clearance."""
        return 0.5 * self.clearance_mm

    @property
    def male_offset_mm(self) -> float:
        """Normal offset of a male mating surface from nominal (negative: smaller)."""
        return -self.coating_mm

    @property
    def female_offset_mm(self) -> float:
        """Normal offset of a female mating surface from nominal (positive: larger)."""
        return self.coating_mm + self.gap_mm

    @property
    def print_scale(self) -> float:
        """Factor on the whole part that makes up for shrinkage: 1 / (1 - s)."""
        return 1.0 / (1.0 - self.shrink_share)

    def facts(self) -> dict[str, float]:
        """The allowances for the report."""
        return {
            "clearance_on_diameter_mm": self.clearance_mm,
            "gap_per_side_mm": self.gap_mm,
            "coating_mm": self.coating_mm,
            "shrinkage_percent": 100.0 * self.shrink_share,
            "print_scale": self.print_scale,
        }


def allowance_of(settings: AllowanceSettings) -> Allowance:
    """Allowances from the recipe and the materials table.

    Raises
    ------
    BadRecipe : the material is not in the table.
    """
    row = material_row(settings.material)
    percent = settings.shrinkage_percent
    if percent < 0:
        percent = float(row["shrink_percent"]["value"])
    return Allowance(settings.clearance_mm, settings.coating_mm, percent / 100.0, settings.material)


def material_name(key: str) -> str:
    """A material as people call it.

    Raises
    ------
    BadRecipe : no such material.
    """
    return str(material_row(key)["name"])


def material_row(key: str) -> dict[str, Any]:
    """A row of the materials table.

    Raises
    ------
    BadRecipe : no such material.
    """
    rows = table("materials")["materials"]
    if key not in rows:
        raise BadRecipe(
            f"There is no material {key!r} in the table.",
            Where("recipe", key="allowance.material"),
            "Use one of: " + ", ".join(sorted(rows)) + ".",
        )
    row: dict[str, Any] = rows[key]
    return row

"""What is added to a nominal size so that the printed part has it: running clearance, coating, shrinkage.

The three never mix. Clearance opens the female part of a pair. Coating makes room on every mating surface
that is coated, or thins the whole print copy. Shrinkage is a factor on the whole part, applied once when the
part is laid out for printing; the solids of this package have their finished size.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..settings import choice, optional_quantity, quantity
from ..tables import MaterialRow, known_row, row_names, table

_OWN = "measured on a coupon; automatic takes the material's from the table."


@dataclass(frozen=True)
class AllowanceSettings:
    """The maker's allowances, for the design of the parts and for their print copies."""

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
    coating_room: str = choice(
        "mating",
        ("mating", "everywhere"),
        "Where room is made for the coating: on surfaces that screw or slide together, or everywhere, by a "
        "print copy that is thinner by it.",
    )
    material: str = choice(
        "petg", row_names("materials"), "The rigid material; gives shrinkage, density and strength."
    )
    shrink_x_percent: float | None = optional_quantity(
        "%", 0.0, 5.0, 0.5, f"Linear shrinkage along the bed's X, {_OWN}"
    )
    shrink_y_percent: float | None = optional_quantity(
        "%", 0.0, 5.0, 0.5, f"Linear shrinkage along the bed's Y, {_OWN}"
    )
    shrink_z_percent: float | None = optional_quantity(
        "%", 0.0, 5.0, 0.5, f"Linear shrinkage across the layers, {_OWN}"
    )


@dataclass(frozen=True)
class Shrinkage:
    """Linear shrinkage along the bed's axes.

    Attributes
    ----------
    percent : along X, Y and across the layers.
    source : where the numbers come from, and how sure they are.
    """

    percent: tuple[float, float, float] = (0.0, 0.0, 0.0)
    source: str = "none"

    @property
    def print_scale(self) -> tuple[float, float, float]:
        """Factors on the whole part that make up for it: 1 / (1 - s)."""
        x, y, z = (1.0 / (1.0 - p / 100.0) for p in self.percent)
        return (x, y, z)


def shrinkage_of(settings: AllowanceSettings, material: str | None = None) -> Shrinkage:
    """The shrinkage that the print copies allow for.

    Parameters
    ----------
    material : of the part, where it is not the rigid one; the coupon's numbers count for it too.

    Raises
    ------
    BadRecipe : no such material.
    """
    row = material_row(material or settings.material)
    usual = row["shrink_percent"]
    own = (settings.shrink_x_percent, settings.shrink_y_percent, settings.shrink_z_percent)
    x, y, z = (float(usual["value"]) if p is None else p for p in own)
    table_said = f"materials table, {row['name']}, confidence {usual['confidence']}"
    told = [axis for axis, p in zip("XYZ", own, strict=True) if p is not None]
    if len(told) == 3:
        source = "the maker's own measurement"
    elif told:
        source = f"the maker's own measurement along {' and '.join(told)}; else {table_said}"
    else:
        source = table_said
    return Shrinkage((x, y, z), source)


@dataclass(frozen=True)
class Allowance:
    """Resolved allowances.

    Attributes
    ----------
    clearance_mm : running clearance on diameter; the female part of a pair is opened by it.
    coating_mm : coating thickness for which mating surfaces make room: males shrink and females grow by it,
        normal to the surface; 0 where the print copy makes the room.
    shrinkage : of the rigid material, for the print copies only.
    material : key in the materials table.
    """

    clearance_mm: float = 0.4
    coating_mm: float = 0.0
    shrinkage: Shrinkage = Shrinkage()
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


def allowance_of(settings: AllowanceSettings) -> Allowance:
    """Allowances from the recipe and the materials table.

    Raises
    ------
    BadRecipe : the material is not in the table.
    """
    room = settings.coating_mm if settings.coating_room == "mating" else 0.0
    return Allowance(settings.clearance_mm, room, shrinkage_of(settings), settings.material)


def material_name(key: str) -> str:
    """A material as people call it.

    Raises
    ------
    BadRecipe : no such material.
    """
    return str(material_row(key)["name"])


def density_g_cm3(key: str) -> float:
    """Density of a material, printed solid.

    Raises
    ------
    BadRecipe : no such material.
    """
    return float(material_row(key)["density_g_cm3"]["value"])


def material_row(key: str) -> MaterialRow:
    """A row of the materials table.

    Raises
    ------
    BadRecipe : no such material.
    """
    rows: dict[str, MaterialRow] = table("materials")["materials"]
    return known_row(rows, key, "material", "allowance.material")

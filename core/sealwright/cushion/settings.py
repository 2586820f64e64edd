"""The cushion of the recipe, and the same with every value resolved from the table of soft materials."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import BadRecipe, Where
from ..settings import choice, optional_choice, optional_quantity, quantity
from ..tables import CushionRow, known_row, row_names, table

KINDS = {"none": "none", "foam": "foam strip", "lip": "cast silicone lip", "liner": "printed soft liner"}
"""Kinds of cushion and their names for people."""

_USUAL = {"foam": "foam_upholstery", "lip": "silicone_a_10", "liner": "tpu_foamed"}
_SEATING_PERCENT = {"foam": 10.0, "lip": 5.0, "liner": 5.0}  # foam seals when pressed together a little


@dataclass(frozen=True)
class CushionSettings:
    """A soft layer between band and skin; the hard band stands off by what is left of it when seated."""

    kind: str = choice("foam", KINDS, "What lies between the hard band and the skin.")
    thickness_mm: float = quantity(
        8.0,
        "mm",
        0.5,
        15.0,
        "Thickness of the cushion while nothing presses it; without a cushion unused. Thick foam takes up "
        "the scan's error at little pressure.",
    )
    material: str | None = optional_choice(
        row_names("cushions"), "The soft material; automatic takes the usual one of the kind."
    )
    seating_percent: float | None = optional_quantity(
        "%",
        0.0,
        40.0,
        10.0,
        "By how much of its thickness the cushion is pressed where the hard band is meant to rest; automatic "
        "is 10 for foam, which follows the skin only when pressed, and 5 for what is cast or printed to the "
        "face.",
    )
    modulus_kpa: float | None = optional_quantity(
        "kPa",
        5.0,
        50000.0,
        100.0,
        "Modulus measured on the material at hand: pressure at a quarter of compression over 0.25; automatic "
        "takes the table's.",
    )
    poisson: float | None = optional_quantity(
        "1", 0.0, 0.47, 0.2, "Effective Poisson ratio of the material at hand; automatic takes the table's."
    )


@dataclass(frozen=True)
class Cushion:
    """A cushion with every value resolved.

    Attributes
    ----------
    kind : "none", "foam", "lip" or "liner".
    thickness_mm : while nothing presses it; 0 for none.
    seated_mm : what is left of it where the hard band is meant to rest.
    material : key in the table of soft materials; "" for none.
    modulus_kpa, poisson : of the layer.
    """

    kind: str = "none"
    thickness_mm: float = 0.0
    seated_mm: float = 0.0
    material: str = ""
    modulus_kpa: float = 200.0
    poisson: float = 0.3

    @property
    def there(self) -> bool:
        """Whether there is one."""
        return self.kind != "none"

    @property
    def row(self) -> CushionRow:
        """Its row in the table of soft materials."""
        return cushion_row(self.material)


def cushion_row(key: str) -> CushionRow:
    """A row of the table of soft materials.

    Raises
    ------
    BadRecipe : no such material.
    """
    rows: dict[str, CushionRow] = table("cushions")["cushions"]
    return known_row(rows, key, "soft material", "recipe.cushion.material")


def cushion_of(settings: CushionSettings) -> Cushion:
    """The cushion with its values from the table where the recipe leaves them to it.

    Raises
    ------
    BadRecipe : the material is not of this kind.
    """
    kind = settings.kind
    if kind == "none":
        return Cushion()
    material = settings.material or _USUAL[kind]
    row = cushion_row(material)
    if row["kind"] != kind:
        fitting = [key for key, other in table("cushions")["cushions"].items() if other["kind"] == kind]
        raise BadRecipe(
            f"The {row['name']} is no material for a {KINDS[kind]}.",
            Where("recipe", key="recipe.cushion.material"),
            "Use one of: " + ", ".join(fitting) + ", or null for automatic.",
        )
    seating = _SEATING_PERCENT[kind] if settings.seating_percent is None else settings.seating_percent
    modulus, poisson = settings.modulus_kpa, settings.poisson
    return Cushion(
        kind=kind,
        thickness_mm=settings.thickness_mm,
        seated_mm=settings.thickness_mm * (1.0 - seating / 100.0),
        material=material,
        modulus_kpa=float(row["modulus_kpa"]["value"]) if modulus is None else modulus,
        poisson=float(row["poisson"]["value"]) if poisson is None else poisson,
    )

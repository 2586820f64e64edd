"""Which material a part of a design is printed in, and what it weighs."""

from __future__ import annotations

from ..hardware.allowance import density_g_cm3
from ..recipe.decisions import ports_of
from .design import Design
from .fittings import ring_port


def part_material(design: Design, part: str) -> str:
    """Key of the materials table of a part: soft rings and a liner are soft, all else is rigid."""
    if part == "liner" and design.cushion is not None:
        return str(design.cushion.cushion.row["printed_as"])
    port = ring_port(design.ports, part)
    if port is None:
        return design.recipe.allowance.material
    return ports_of(design.recipe)[port].connection.soft_material


def part_mass_g(design: Design, part: str) -> float:
    """Mass of a part printed solid."""
    return design.parts[part].volume * 1e-3 * density_g_cm3(part_material(design, part))

"""What hangs on the straps: masses and centres of all parts, medium, ring and valve flap of a design."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np

from ..designing.design import Design
from ..designing.fittings import hardware_parts, holders_of
from ..designing.part_material import part_material
from ..facepiece.shell import Shell
from ..hardware.allowance import allowance_of, material_row
from ..hardware.filter_area import medium_row
from ..hardware.hanging import centroid
from ..hardware.outlines import seat_of
from ..hardware.port_facts import ValvePortFacts, gland_of
from ..mesh import Floats
from ..physics.loop import grid_areas
from ..physics.statics import Hanging

RUBBER_G_CM3 = 1.2
"""Density of a bought ring and of a valve flap; common practice, no source."""

FLAP_MM = 0.5
"""Thickness of a valve flap; common practice, no source."""

Item: TypeAlias = tuple[str, float, Floats, str]


def hanging(design: Design) -> Hanging:
    """Mass, centre and lever of everything the straps carry.

    Parts count as printed solid (as the print plan does): sparse filling weighs less. A sketch has no body
    solid;
    its shell's area times its thickness is taken, and its holders are built for their volume.
    """
    items = [*_printed(design), *_media(design), *_rings(design), *_flaps(design)]
    mass = sum(item[1] for item in items)
    centre = sum((item[1] * item[2] for item in items), start=np.zeros(3)) / max(mass, 1e-9)
    bridge = design.prepared.landmarks["sellion"]
    return Hanging(
        mass,
        centre,
        tuple(
            (name, grams, (float(at[0]), float(at[1]), float(at[2])), how) for name, grams, at, how in items
        ),
        float(bridge[1] - centre[1]),
    )


def _density(material: str) -> float:
    return float(material_row(material)["density_g_cm3"]["value"])


def _printed(design: Design) -> list[Item]:
    parts, items = dict(design.parts), list[Item]()
    if not parts and design.shell is not None:
        recipe = design.recipe
        holders = holders_of(recipe, design.ports, allowance_of(recipe.allowance))
        parts = hardware_parts(recipe, design.ports, holders)
        grams, centre = _shell_mass(design.shell, _density(recipe.allowance.material))
        items.append(("body", grams, centre, "area of the sketched shell times its thickness"))
    for name, solid in parts.items():
        grams = solid.volume * 1e-3 * _density(part_material(design, name))
        items.append((name, grams, centroid(solid.mesh), "volume of the solid times density of its material"))
    return items


def _shell_mass(shell: Shell, density_g_cm3: float) -> tuple[float, Floats]:
    middle = 0.5 * (shell.face_side + shell.outer_side)
    volume = grid_areas(middle) * np.linalg.norm(shell.outer_side - shell.face_side, axis=2)
    centre = (volume[..., None] * middle).sum(axis=(0, 1)) / volume.sum()
    return float(volume.sum()) * 1e-3 * density_g_cm3, np.asarray(centre)


def _media(design: Design) -> list[Item]:
    """The medium of every holder, where its holder is."""
    holder = design.recipe.holder
    area_m2 = seat_of(holder).area_mm2(0.0) * holder.pleat_factor * 1e-6
    grams = area_m2 * float(medium_row(holder.medium)["areal_g_m2"]["value"])
    holders = [solid for name, solid in design.parts.items() if name.startswith("holder")]
    if holders:
        places = [centroid(solid.mesh) for solid in holders]
    else:
        places = [
            placed.frame[:3, 3]
            for placed in design.ports
            if not isinstance(placed.parts.facts, ValvePortFacts)
        ]
    return [("medium", grams, place, "area of the sheet times its mass per area") for place in places]


def _rings(design: Design) -> list[Item]:
    """Bought rings: pi^2 / 4 d^2 (D + d) of a torus."""
    items = list[Item]()
    for placed in design.ports:
        gland = gland_of(placed.parts.facts)
        if gland is not None:
            ring = gland.groove.ring
            volume = math.pi**2 / 4.0 * ring.section_mm**2 * (ring.inside_mm + ring.section_mm)
            at = placed.frame[:3, 3]
            items.append(("ring", volume * 1e-3 * RUBBER_G_CM3, at, "torus of its inside and section"))
    return items


def _flaps(design: Design) -> list[Item]:
    items = list[Item]()
    for placed in design.ports:
        facts = placed.parts.facts
        if isinstance(facts, ValvePortFacts):
            volume = math.pi / 4.0 * (facts.valve_seat_inner_diameter_mm + 4.0) ** 2 * FLAP_MM
            at = placed.frame[:3, 3]
            items.append(("valve flap", volume * 1e-3 * RUBBER_G_CM3, at, "disc 4 mm wider than the seat"))
    return items

"""What hangs on the straps: masses and centres of all parts, medium, ring and valve flap of a design."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..cushion.band_face import band_face_of
from ..cushion.made import mass_g
from ..cushion.settings import cushion_of
from ..designing.design import Design
from ..designing.fittings import hardware_parts, holders_of, on_port
from ..designing.part_material import part_mass_g
from ..facepiece.shell import Shell
from ..hardware.allowance import allowance_of, density_g_cm3
from ..hardware.cartridge import FLAP_MM
from ..hardware.filter_area import medium_row
from ..hardware.outlines import seat_of
from ..hardware.port_facts import ValvePortFacts, gland_of
from ..mesh import Floats, TriMesh
from ..physics.loop import grid_areas
from ..physics.statics import Hanging, HungPart, hanging_of
from ..recipe.decisions import holder_on, ports_of

RUBBER_G_CM3 = 1.2
"""Density of a bought ring and of a valve flap; common practice, no source."""


def hanging(design: Design) -> Hanging:
    """Mass, centre and lever of everything the straps carry.

    Parts count as printed solid (as the print plan does): sparse filling weighs less. A sketch has no body
    solid; its shell's area times its thickness is taken, and its holders are built for their volume.
    """
    parts = [*_printed(design), *_cushion(design), *_media(design), *_rings(design), *_flaps(design)]
    return hanging_of(parts, design.prepared.landmarks["sellion"])


def _printed(design: Design) -> list[HungPart]:
    sketched, recipe = [], design.recipe
    if not design.parts and design.shell is not None:
        sketched.append(shell_hung(design.shell, recipe.allowance.material))
        holders = holders_of(recipe, design.ports, allowance_of(recipe.allowance))
        design = replace(design, parts=hardware_parts(recipe, design.ports, holders))
    how = "volume of the solid times density of its material"
    return sketched + [
        _hung(name, part_mass_g(design, name), centroid(solid.mesh), how)
        for name, solid in design.parts.items()
    ]


def shell_hung(shell: Shell, material: str) -> HungPart:
    """A sketched body of a material of the table."""
    grams, centre = _shell_mass(shell, density_g_cm3(material))
    return _hung("body", grams, centre, "area of the sketched shell times its thickness")


def _hung(name: str, grams: float, at: Floats, taken_from: str) -> HungPart:
    return HungPart(name=name, mass_g=grams, centre_mm=at, taken_from=taken_from)


def centroid(mesh: TriMesh) -> Floats:
    """Centre of mass (3,) of a closed mesh of even density: tetrahedra from the origin to its triangles."""
    corners = mesh.corners
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    return np.asarray(volume @ corners.sum(axis=1) / (4.0 * volume.sum()))


def _shell_mass(shell: Shell, density_g_cm3: float) -> tuple[float, Floats]:
    middle = 0.5 * (shell.face_side + shell.outer_side)
    volume = grid_areas(middle) * np.linalg.norm(shell.outer_side - shell.face_side, axis=2)
    centre = (volume[..., None] * middle).sum(axis=(0, 1)) / volume.sum()
    return float(volume.sum()) * 1e-3 * density_g_cm3, np.asarray(centre)


def _cushion(design: Design) -> list[HungPart]:
    """Foam or a lip on the band: a printed liner counts among the parts once it is one."""
    soft = cushion_of(design.recipe.cushion)
    if not soft.there or design.band is None or "liner" in design.parts:
        return []
    face = band_face_of(design.band)
    if design.cushion is not None:
        grams, how = design.cushion.mass_g, "volume of the cushion times density of its material"
    else:
        grams = mass_g(soft, face.area_mm2 * soft.thickness_mm)
        how = "area of the band times thickness and density of the cushion"
    middle = face.grid + 0.5 * soft.seated_mm * -face.normals
    weights = grid_areas(middle)
    centre = (weights[..., None] * middle).sum(axis=(0, 1)) / weights.sum()
    return [_hung("cushion", grams, np.asarray(centre), how)]


def _media(design: Design) -> list[HungPart]:
    """The medium of every holder, where its holder is."""
    recipe, items = design.recipe, list[HungPart]()
    for number, placed in enumerate(design.ports[: len(ports_of(recipe))]):
        held = holder_on(recipe, number)
        if held is None:
            continue
        areal = float(medium_row(held.medium)["areal_g_m2"]["value"])
        grams = seat_of(held).area_mm2(0.0) * held.pleat_factor * 1e-6 * areal
        solid = design.parts.get(on_port("holder", number, design.ports))
        place = placed.frame[:3, 3] if solid is None else centroid(solid.mesh)
        items.append(_hung("medium", grams, place, "area of the sheet times its mass per area"))
    return items


def _rings(design: Design) -> list[HungPart]:
    """Bought rings: pi^2 / 4 d^2 (D + d) of a torus."""
    items = list[HungPart]()
    for placed in design.ports:
        gland = gland_of(placed.parts.facts)
        if gland is not None:
            ring = gland.groove.ring
            volume = math.pi**2 / 4.0 * ring.section_mm**2 * (ring.inside_mm + ring.section_mm)
            grams, at = volume * 1e-3 * RUBBER_G_CM3, placed.frame[:3, 3]
            items.append(_hung("ring", grams, at, "torus of its inside and section"))
    return items


def _flaps(design: Design) -> list[HungPart]:
    items = list[HungPart]()
    for placed in design.ports:
        facts = placed.parts.facts
        if isinstance(facts, ValvePortFacts):
            volume = math.pi / 4.0 * facts.flap_diameter_mm**2 * FLAP_MM
            at = placed.frame[:3, 3] + facts.valve_seat_plane_z_mm * placed.frame[:3, 2]
            items.append(_hung("valve flap", volume * 1e-3 * RUBBER_G_CM3, at, "a disc"))
    return items

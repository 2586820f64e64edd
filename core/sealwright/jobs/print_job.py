"""How the parts of a design print: plans, soft rings printed in place, and what goes into the 3MF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..designing.contact_face import contact_face_of
from ..designing.design import Design
from ..designing.fittings import ring_port
from ..designing.part_material import part_material
from ..designing.way_up import way_of
from ..export.threemf import PrintPart
from ..hardware.port_facts import soft_ring_in
from ..printing.allowances import allowances_of
from ..printing.in_place import InPlaceRing, in_place_ring
from ..printing.layer_advice import layer_advice
from ..printing.plan import PrintPlan, plan_print
from ..printing.printer import PORT_DOWN
from ..printing.ribs import on_ribs
from ..report.print_scene import RIBS_COLOUR
from ..report.shown_parts import PART_COLOURS

PERIMETERS = 4  # an airtight wall (common practice, no source)
BRIM_MM = 5  # common practice, no source
RIBS = "ribs"
_TALL = 0.8  # of its lesser width: a part so tall may be knocked off the bed; common practice, no source


def plan_part(design: Design, name: str, body: PrintPlan | None = None) -> PrintPlan:
    """The print plan of a part of a design.

    A soft ring is planned as it prints in the body, way up and shrinkage of ``body``, in its own material.
    """
    recipe, solid, material = design.recipe, design.parts[name], part_material(design, name)
    if body is not None and ring_port(design.ports, name) is not None:
        return plan_print(solid, material, recipe.printer, np.array(body.up), allowances=body.allowances)
    allowances = allowances_of(material, recipe.allowance)
    plan = plan_print(solid, material, recipe.printer, design.print_up.get(name), allowances=allowances)
    if name == "body" and design.own is None and way_of(recipe) != PORT_DOWN:
        plan = on_ribs(plan, recipe.printer)
    face = contact_face_of(design)
    if face is None or face.part != name:
        return plan
    slopes, top = face.slope.ravel(), plan.size_mm[2]
    advised = layer_advice(plan.heights_mm(face.points).ravel(), slopes, top, plan.layer_mm3, recipe.printer)
    return replace(plan, smooth=replace(advised, felt=not face.covered))


def rings_in_place(design: Design, plans: Mapping[str, PrintPlan]) -> tuple[InPlaceRing, ...]:
    """When the material changes for each soft ring of a design.

    Raises
    ------
    BadRecipe : a ring is thinner than a layer.
    """
    rings = []
    for name, plan in plans.items():
        port = ring_port(design.ports, name)
        soft = None if port is None else soft_ring_in(design.ports[port].parts.facts)
        if port is not None and soft is not None:
            axis, printer = design.ports[port].frame[:3, 2], design.recipe.printer
            rings.append(in_place_ring((name, design.main), plan, plans[design.main], axis, soft, printer))
    return tuple(rings)


def print_settings(plans: Mapping[str, PrintPlan]) -> dict[str, str]:
    """What to set in the slicer for a plate, by name; kept in the 3MF under names of our own."""
    hanging = [name for name, plan in plans.items() if not plan.support_free]
    tall = [
        name
        for name, plan in plans.items()
        if plan.ribs is not None or plan.size_mm[2] > _TALL * min(plan.size_mm[:2])
    ]
    return {
        "print_supports": f"only for {', '.join(hanging)}; off for all else" if hanging else "off",
        "print_brim": f"{BRIM_MM} mm round {', '.join(tall)}" if tall else "not needed",
        "print_seam": "at the back, off sealing faces, threads and contact band",
        "print_perimeters": f"{PERIMETERS} at least, solid inside",
        **_layers_told(plans),
    }


def _layers_told(plans: Mapping[str, PrintPlan]) -> dict[str, str]:
    """Layers by height of a part whose steps the skin feels, in words: no slicer reads them from a file."""
    told = [
        f"of the {name} {plan.smooth.words}"
        for name, plan in plans.items()
        if plan.smooth is not None and plan.smooth.felt
    ]
    return {"print_layers": ", ".join(told)} if told else {}


def settings_text(settings: Mapping[str, str]) -> str:
    """The same in a sentence."""
    told = "; ".join(f"{name.removeprefix('print_')} {value}" for name, value in settings.items())
    return f"Slicer: {told}."


def print_parts(plans: Mapping[str, PrintPlan], rings: Sequence[InPlaceRing] = ()) -> list[PrintPart]:
    """The parts of the 3MF file; a ring and the body it is printed in keep their places to each other."""
    together = {name: ring.body for ring in rings for name in (ring.ring, ring.body)}
    together |= {name: name for name, plan in plans.items() if plan.ribs is not None}
    parts = [
        PrintPart(
            name,
            plan.mesh,
            plan.material,
            PART_COLOURS[number % len(PART_COLOURS)],
            plan.orientation,
            together.get(name, ""),
        )
        for number, (name, plan) in enumerate(plans.items())
    ]
    for name, plan in plans.items():
        if plan.ribs is not None:
            at = [part.name for part in parts].index(name) + 1
            ribs = PrintPart(RIBS, plan.ribs, plan.material, RIBS_COLOUR, plan.orientation, name)
            parts.insert(at, ribs)
    return parts

"""Soft rings that are printed in place: in which layers, and at which heights, the material changes.

Ring and body are one print: they keep their places to each other, share the way up and the shrinkage, and
differ in the material alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..hardware.allowance import material_name
from ..hardware.soft_ring import MaterialChange, SoftRing, material_changes, nearest_layer
from ..mesh import Floats
from .plan import PrintPlan
from .printer import PrinterSettings

LEVEL_DEG = 0.5  # a ring that leans less than this lies in whole layers: 0.3 mm over a ring of 40 mm


@dataclass(frozen=True)
class InPlaceRing:
    """When to change the material for one ring.

    Attributes
    ----------
    ring, body : names of the two parts of the print.
    soft_material, rigid_material : keys of the materials table.
    changes : by rising layer; before the first one the print is rigid.
    layers : of the whole print, ring and body.
    layer_mm, first_layer_mm : their heights.
    level : the ring lies in whole layers; where it does not, soft and rigid share all of its layers.
    """

    ring: str
    body: str
    soft_material: str
    rigid_material: str
    changes: tuple[MaterialChange, ...]
    layers: int
    layer_mm: float
    first_layer_mm: float
    level: bool

    def as_dict(self) -> dict[str, object]:
        """The schedule for the report."""
        plain = ("ring", "body", "soft_material", "rigid_material", "layers", "layer_mm", "first_layer_mm")
        rows = [{"layer": c.layer, "z_mm": c.z_mm, "material": c.material} for c in self.changes]
        return {**{name: getattr(self, name) for name in (*plain, "level")}, "changes": rows}


def in_place_ring(
    names: tuple[str, str],
    ring: PrintPlan,
    body: PrintPlan,
    axis: Floats,
    soft: SoftRing,
    printer: PrinterSettings,
) -> InPlaceRing:
    """Work out the material changes of a ring in the front face of a port.

    Parameters
    ----------
    names : of ring and body.
    ring, body : their plans, with the same way up and the same allowances.
    axis : (3,) axis of the port, out of the mask, in the frame of the parts.
    soft : the ring: how far it stands out and how deep its root goes.
    printer : layer heights.

    Raises
    ------
    BadRecipe : the ring is thinner than a layer.
    """
    up, scale = np.array(body.up), body.allowances.scale[2]
    heights = [plan.mesh.vertices @ up for plan in (ring, body)]
    bed = min(float(h.min()) for h in heights)
    low, high = float(heights[0].min()) - bed, float(heights[0].max()) - bed
    lean = np.degrees(np.arccos(np.clip(-float(axis @ up), -1.0, 1.0)))
    layer, first = printer.layer_mm, printer.first_layer_mm
    if lean > LEVEL_DEG:
        changes = material_changes(low, high, layer, first, "both")
    else:
        face = low + scale * soft.proud
        root = face + scale * soft.depth
        changes = _level_changes(low, face, root, layer, first)
    top = max(float(h.max()) for h in heights) - bed
    return InPlaceRing(
        *names,
        ring.material,
        body.material,
        changes,
        nearest_layer(top, layer, first) - 1,
        layer,
        first,
        bool(lean <= LEVEL_DEG),
    )


def _level_changes(
    low: float, face: float, root: float, layer: float, first: float
) -> tuple[MaterialChange, ...]:
    """Soft alone up to the rigid face, both along the root, then rigid."""
    soft = material_changes(low, face, layer, first)
    if root - face < 1e-9:
        return soft
    return (soft[0], *material_changes(face, root, layer, first, "both"))


def schedule_text(rings: Sequence[InPlaceRing]) -> str:
    """The schedules to print out and lay beside the printer."""
    lines = ["Material changes of a soft ring printed in place", ""]
    for ring in rings:
        soft, rigid = (material_name(key) for key in (ring.soft_material, ring.rigid_material))
        words = {"soft": f"{soft} alone", "both": f"{soft} and {rigid} in each layer", "rigid": rigid}
        lines += [
            f"{ring.ring} in {ring.body}: one print of {ring.layers} layers.",
            f"First layer {ring.first_layer_mm:g} mm, all others {ring.layer_mm:g} mm. Layers count from 1",
            "at the bed; the height is that of the bottom of the layer over the bed.",
            "",
            "from layer   height, mm   print with",
            *(f"{c.layer:>10}   {c.z_mm:>10.2f}   {words[c.material]}" for c in ring.changes),
            "",
        ]
        if not ring.level:
            lines += [
                "This ring leans in the print: only a printer with two nozzles or tools can make it.",
                "",
            ]
    lines += [
        "Layers of both materials need a printer that changes its material by itself. With a change by hand",
        'take the seal "flat", which has soft layers only. Try the bond of the two materials on a coupon.',
    ]
    return "\n".join(lines) + "\n"

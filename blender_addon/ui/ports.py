# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels of the ports and of what screws on them."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.wearers import active_wearer
from ..model.words import told
from .fine import FINE
from .header import write_hint
from .panels import WearerPanel, draw_fields, draw_fine, draw_value, folding, section_fields

CONNECTION_VALUES = {
    "printed": ("diameter_mm", "pitch_mm", "starts", "turns", "bore_mm"),
    "metric": ("diameter_mm", "pitch_mm", "starts", "turns", "bore_mm"),
    "trapezoidal": ("diameter_mm", "pitch_mm", "starts", "turns", "bore_mm"),
    "rd40": ("turns", "bore_mm"),
    "cone": ("cone_size", "cone_gender", "bore_mm"),
    "plain": ("bore_mm", "length_mm"),
    "valve": (),
}
SEAL_VALUES = {"o_ring": ("gland_side", "ring"), "soft_ring": ("soft_material", "soft_proud_mm"), "flat": ()}
CARRIES = ("carries", "disc_mm")
HOLDS = ("printed", "metric", "trapezoidal")
THREADED = ("printed", "metric", "trapezoidal", "rd40")
SHORT: dict[str, dict[str, Any]] = {"gland_side": {"text": "Gland"}, "soft_material": {"text": "Soft"}}
SCREWED_ON = {"holder": "Holder", "exhalation": "Exhalation Valve"}
PLACE_VALUES = ("front_mm", "further_out", "raise_mm", "tilt_deg", "turn_deg")


class SEALWRIGHT_PT_ports(WearerPanel):
    """Ports: where they are and how things connect to them."""

    bl_label = "Ports"
    step = "ports"

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """One sub-panel per port; only the values that its kind of connection has."""
        wearer = active_wearer(context)
        if wearer is None:
            return
        write_hint(layout, context, "ports")
        row = layout.row(align=True)
        row.operator("sealwright.add_port", icon="ADD")
        row.operator("sealwright.remove_port", icon="REMOVE")
        for number, port in enumerate(wearer.recipe.ports, start=1):
            header, body = folding(layout, f"port_{number}")
            header.label(text=told("Port {number}", number=number))
            if body is not None:
                draw_port(body, port)
        for name, title in SCREWED_ON.items():
            header, body = folding(layout, name, folded=True)
            header.label(text=title)
            if body is not None:
                draw_fields(body, getattr(wearer.recipe, name), section_fields(name), name)


def draw_port(layout: bpy.types.UILayout, port: Any) -> None:
    """Place and connection of one port; only what its kind of connection has; experts' values closed."""
    fields = {field["name"]: field for field in section_fields("ports")}
    inner = {field["name"]: field for field in fields["connection"]["fields"]}
    column = layout.column(align=True)
    for name in PLACE_VALUES:
        draw_value(column, port, fields[name])
    if port.connection.kind in HOLDS:
        for name in CARRIES:
            draw_value(column, port, fields[name])
    column = layout.column(align=True)
    connection = port.connection
    column.prop(connection, "kind", text="Kind")
    for name in CONNECTION_VALUES[connection.kind]:
        draw_value(column, connection, inner[name])
    if connection.kind == "valve":
        draw_fields(layout, connection.valve, inner["valve"]["fields"], "valve")
    if connection.kind in THREADED:
        column = layout.column(align=True)
        for name in ("seal", *SEAL_VALUES[connection.seal]):
            draw_value(column, connection, inner[name], **SHORT.get(name, {}))
    draw_fine(layout, connection, [inner[name] for name in FINE["connection"]])

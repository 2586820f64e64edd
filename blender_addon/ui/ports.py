# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels of the ports and of what screws on them."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.own_objects import OWN
from ..model.wearers import active_wearer
from ..model.words import told
from .fields import draw_fields, draw_value, folding, section_fields
from .header import write_hint
from .own_shapes import draw_fittings
from .panels import WearerPanel
from .port_values import draw_port

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
        if wearer.recipe.kind in OWN:
            draw_fittings(layout, wearer)
        else:
            draw_ports(layout, wearer)
            header, body = folding(layout, "own_fittings", folded=True)
            header.label(text="Your Own Places")
            if body is not None:
                draw_fittings(body, wearer)
        for name, title in SCREWED_ON.items():
            if name == "exhalation" and wearer.recipe.kind in OWN:
                continue
            header, body = folding(layout, name, folded=True)
            header.label(text=title)
            if body is not None:
                draw_fields(body, getattr(wearer.recipe, name), section_fields(name), name)


def draw_ports(layout: bpy.types.UILayout, wearer: Any) -> None:
    """The ports of a mask, each with its place and only the values that its kind of connection has."""
    row = layout.row(align=True)
    row.operator("sealwright.add_port", icon="ADD")
    row.operator("sealwright.remove_port", icon="REMOVE")
    fields = {field["name"]: field for field in section_fields("ports")}
    for number, port in enumerate(wearer.recipe.ports, start=1):
        header, body = folding(layout, f"port_{number}")
        header.label(text=told("Port {number}", number=number))
        if body is not None:
            column = body.column(align=True)
            for name in PLACE_VALUES:
                draw_value(column, port, fields[name])
            draw_port(body, port, fields)

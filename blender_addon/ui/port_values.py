# SPDX-License-Identifier: GPL-3.0-or-later
"""Values of a port's connection; only those that its kind has."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import bpy

from .fields import draw_fields, draw_fine, draw_value
from .fine import FINE

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


def draw_port(layout: bpy.types.UILayout, port: Any, fields: Mapping[str, Any]) -> None:
    """Connection of one port; only what its kind of connection has; experts' values closed.

    Parameters
    ----------
    fields : of a port by name.
    """
    inner = {field["name"]: field for field in fields["connection"]["fields"]}
    if port.connection.kind in HOLDS:
        column = layout.column(align=True)
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

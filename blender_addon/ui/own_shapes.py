# SPDX-License-Identifier: GPL-3.0-or-later
"""What the panels show of shapes of the maker's own: where they come from, and what stands on them."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.own_objects import SHELL, TRIM
from ..model.words import told
from .fields import draw_fields, draw_value, folding, section_fields
from .port_values import draw_port

AIM_VALUES = ("tilt_deg", "turn_deg", "roll_deg")
PLACE_VALUES = ("x_mm", "y_mm", "z_mm")


def draw_source(layout: bpy.types.UILayout, wearer: Any) -> None:
    """The outline of a shell or the model that is trimmed, and the ways to it; nothing for a mask."""
    if wearer.recipe.kind == SHELL:
        row = layout.row(align=True)
        row.operator("sealwright.draw_outline", icon="GREASEPENCIL")
        hole: Any = row.operator("sealwright.draw_outline", text="Draw Hole", icon="MESH_CIRCLE")
        hole.hole = True
        row = layout.row(align=True)
        row.operator_menu_enum("sealwright.outline_from", "source", icon="FACESEL")
        row.operator("sealwright.edit_outline", icon="EDITMODE_HLT")
        layout.prop(wearer, "outline")
        draw_openings(layout, wearer.recipe.shell)
    elif wearer.recipe.kind == TRIM:
        layout.operator("sealwright.use_model", icon="MESH_MONKEY")
        layout.prop(wearer, "model")


def draw_openings(layout: bpy.types.UILayout, shell: Any) -> None:
    """Openings by landmarks and pairs of strap slots, each with its sizes."""
    row = layout.row(align=True)
    hole: Any = row.operator("sealwright.add_opening", icon="ADD")
    slot: Any = row.operator("sealwright.add_opening", text="Add Strap Slots", icon="ADD")
    hole.kind, slot.kind = "holes", "slots"
    fields = {field["name"]: field["fields"] for field in section_fields("shell") if "fields" in field}
    for number, opening in enumerate(shell.holes):
        draw_rows(layout, f"{told('Opening')} {number + 1}", ("holes", number), opening, fields["holes"])
    for number, opening in enumerate(shell.slots):
        draw_rows(layout, f"{told('Strap Slots')} {number + 1}", ("slots", number), opening, fields["slots"])


def draw_rows(
    layout: bpy.types.UILayout, title: str, which: tuple[str, int], opening: Any, fields: Any
) -> None:
    """One opening, closed, with the button that removes it."""
    header, body = folding(layout, f"{which[0]}_{which[1]}", folded=True)
    header.label(text=title)
    drop: Any = header.operator("sealwright.remove_opening", text="", icon="X")
    drop.kind, drop.index = which
    if body is not None:
        draw_fields(body, opening, fields)


def draw_cage(layout: bpy.types.UILayout, wearer: Any) -> None:
    """The chamber as a cage, out and in."""
    row = layout.row(align=True)
    row.operator("sealwright.take_cage", icon="MESH_GRID")
    row.operator("sealwright.use_cage", text="Use Selected", icon="IMPORT")
    layout.prop(wearer, "cage")


def draw_fittings(layout: bpy.types.UILayout, wearer: Any) -> None:
    """Ports, lugs and cutters on a shape of the maker's own."""
    draw_standing(layout, kind="port", text="Port Here")
    draw_standing(layout, kind="lug", text="Lug Here")
    count = {"port": 0, "lug": 0}
    for index, fitting in enumerate(wearer.recipe.fittings):
        count[fitting.kind] += 1
        header, body = folding(layout, f"fitting_{index}", folded=True)
        number = count[fitting.kind]
        lug = fitting.kind == "lug"
        header.label(
            text=told("Lug {number}", number=number) if lug else told("Port {number}", number=number)
        )
        move: Any = header.operator("sealwright.stand_fitting", text="", icon="OBJECT_ORIGIN")
        move.at, move.index, move.kind = "CLICK", index, fitting.kind
        drop: Any = header.operator("sealwright.remove_fitting", text="", icon="X")
        drop.index = index
        if body is not None:
            draw_fitting(body, fitting)
    layout.operator("sealwright.cut_here", icon="MOD_BOOLEAN")
    for index, row in enumerate(wearer.cutters):
        line = layout.row(align=True)
        line.prop(row, "cutter", text="")
        gone: Any = line.operator("sealwright.remove_cutter", text="", icon="X")
        gone.index = index


def draw_standing(layout: bpy.types.UILayout, kind: str, text: str) -> None:
    """Three ways to a place: a click in the view, the 3D cursor, the selected face."""
    row = layout.row(align=True)
    name = "sealwright.stand_fitting"
    buttons: list[Any] = [
        row.operator(name, text=text, icon="RESTRICT_SELECT_OFF"),
        row.operator(name, text="", icon="CURSOR"),
        row.operator(name, text="", icon="FACESEL"),
    ]
    for button, at in zip(buttons, ["CLICK", "CURSOR", "FACE"], strict=True):
        button.kind, button.at = kind, at


def draw_fitting(layout: bpy.types.UILayout, fitting: Any) -> None:
    """Place, aim and sizes of one fitting."""
    fields = {field["name"]: field for field in section_fields("fittings")}
    column = layout.column(align=True)
    for name in ("kind", *PLACE_VALUES, *AIM_VALUES):
        draw_value(column, fitting, fields[name])
    if fitting.kind == "lug":
        draw_fields(layout, fitting.lug, fields["lug"]["fields"], "lug")
    else:
        draw_port(layout, fitting, fields)

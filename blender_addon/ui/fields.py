# SPDX-License-Identifier: GPL-3.0-or-later
"""Values of a recipe as the panels show them."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.labels import label_of, titled
from ..model.props import auto_name, read_fields
from .fine import FINE

LABEL_SHARE = 0.56  # of a panel's width


def draw_fields(layout: bpy.types.UILayout, group: Any, fields: Any, section: str = "") -> None:
    """All values of a section, inner sections under their own names, those for experts closed at the end.

    Parameters
    ----------
    section : whose values they are, as in `fine.FINE`.
    """
    column, fine = layout.column(align=True), FINE.get(section, ())
    for field in fields:
        if field["name"] in fine or field["kind"] in ("points", "sections"):
            continue
        if field["kind"] == "section":
            layout.label(text=titled(field["name"].replace("_", " ")))
            draw_fields(layout, getattr(group, field["name"]), field["fields"], field["name"])
            column = layout.column(align=True)
        else:
            draw_value(column, group, field)
    draw_fine(layout, group, [field for field in fields if field["name"] in fine])


def draw_fine(layout: bpy.types.UILayout, group: Any, fields: Any) -> None:
    """Values for experts, closed."""
    if not fields:
        return
    header, body = folding(layout, f"fine_{type(group).__name__}", folded=True)
    header.label(text="Fine Values")
    if body is not None:
        column = body.column(align=True)
        for field in fields:
            draw_value(column, group, field)


def draw_value(layout: bpy.types.UILayout, group: Any, field: Any, **how: Any) -> None:
    """One value; an optional number as the checkbox "Automatic", with the number beside it when it is off."""
    auto = auto_name(field)
    if field["kind"] == "switch":
        layout.prop(group, field["name"], **how)
        return
    row = beside(layout, how.get("text", label_of(field)))
    if not auto:
        row.prop(group, field["name"], text="")
    elif getattr(group, auto):
        row.prop(group, auto)
    else:
        row.prop(group, auto, text="")
        row.prop(group, field["name"], text="")


def beside(layout: bpy.types.UILayout, text: str) -> bpy.types.UILayout:
    """A label as property split has it, but wider, for a sidebar of 280 pixels; gives the place beside it."""
    split = layout.split(factor=LABEL_SHARE, align=True)
    split.use_property_split = False
    label = split.row()
    label.alignment = "RIGHT"
    label.label(text=text)
    return split.row(align=True)


def folding(
    layout: bpy.types.UILayout, name: str, folded: bool = False
) -> tuple[bpy.types.UILayout, bpy.types.UILayout | None]:
    """A part of a panel that folds; the second layout is None while folded (the stubs do not say so)."""
    made: Any = layout.panel(f"sealwright_{name}", default_closed=folded)
    return made[0], made[1]


def section_fields(name: str) -> Any:
    """The fields of one section of the recipe."""
    return next(field for field in read_fields() if field["name"] == name)["fields"]

# SPDX-License-Identifier: GPL-3.0-or-later
"""How large the scan is, as part of the Scan panel: measured scale, wearer scale and shrinkage apart."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.props import plain
from ..model.wearers import SEALWRIGHT_PG_wearer, scene_state, wearer_mm
from ..model.words import told
from .header import write


def draw_measuring(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """A known length between two points, or an object of known size."""
    state = scene_state(context)
    box = layout.column(align=True)
    box.operator("sealwright.add_ruler", icon="DRIVER_DISTANCE")
    box.prop(state, "ruler_mm")
    box.operator("sealwright.use_ruler")
    box = layout.column(align=True)
    box.prop(state, "reference", text="")
    if state.reference == "RECTANGLE":
        box.prop(state, "reference_long_mm")
        box.prop(state, "reference_short_mm")
    row = box.row(align=True)
    row.use_property_split = False
    row.prop(state, "reference_mark", expand=True)
    box.operator("sealwright.use_reference", icon="MESH_PLANE")


def draw_scales(
    layout: bpy.types.UILayout, context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, width: int
) -> None:
    """The three factors, each with what it acts on, so that none is taken for another."""
    box = layout.box()
    write(
        box,
        told("Scan: one unit is {size} mm.", size=f"{wearer_mm(context, wearer):.5g}"),
        width - 30,
        "DRIVER_DISTANCE",
    )
    if wearer.scale_said:
        write(box, wearer.scale_said, width - 30, "BLANK1")
    for text in factors(wearer):
        write(box, text, width - 30, "BLANK1")


def factors(wearer: SEALWRIGHT_PG_wearer) -> tuple[str, str]:
    """Wearer scale and shrinkage in words."""
    scale = plain(wearer.recipe.scan.wearer_scale)
    if scale == 1.0:
        size = told("Wearer scale 1: the mask is made to the size of the face as it is.")
    else:
        size = told(
            "Wearer scale {scale}: the mask is made to the size {more} % on the face.",
            scale=f"{scale:g}",
            more=f"{100 * (scale - 1):+.1f}",
        )
    shrunk = shrinkage(wearer.recipe)
    return size, told("Shrinkage {shrunk}: only the printed copies are larger (Print panel).", shrunk=shrunk)


def shrinkage(recipe: Any) -> str:
    """The linear shrinkage that the print copies allow for, and where it comes from."""
    from ..core.tables import table

    own, row = recipe.allowance, table("materials")["materials"][recipe.allowance.material]
    names = [f"shrink_{axis}_percent" for axis in "xyz"]
    if all(getattr(own, f"{name}_auto") for name in names):
        return f"{row['shrink_percent']['value']:g} % ({row['name']})"
    usual = float(row["shrink_percent"]["value"])
    each = [usual if getattr(own, f"{name}_auto") else plain(getattr(own, name)) for name in names]
    return told("{each} % along X, Y, Z (your coupon)", each=" x ".join(f"{value:g}" for value in each))

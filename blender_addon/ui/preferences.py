# SPDX-License-Identifier: GPL-3.0-or-later
"""The preferences of the extension: folder, printer and material of new wearers, unit of lengths, keys."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import bpy
from bpy.props import EnumProperty, StringProperty

from ..model.preferences import PACKAGE, USUAL, usual_fields
from ..model.props import property_of
from . import keys

LENGTHS = (
    ("MM", "Millimetres", "As they are meant"),
    ("IN", "Inches", "In what is said and in the legends; values to type stay in millimetres"),
)


def draw(self: Any, context: bpy.types.Context) -> None:
    """Called by Blender when the preferences are shown."""
    layout = self.layout
    layout.use_property_split, layout.use_property_decorate = True, False
    column = layout.column()
    column.prop(self, "folder")
    column.prop(self, "lengths")
    layout.label(text="New Wearers")
    column = layout.column()
    for section in USUAL:
        for field in usual_fields(section):
            column.prop(self, field["name"])
    layout.label(text="Keys in the 3D View")
    draw_keys(layout.column(), context)


def draw_keys(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Blender's own rows for the keys."""
    import rna_keymap_ui

    config = keys.user_config(context)
    for keymap, item in keys.entries(context):
        layout.context_pointer_set("keymap", keymap)
        rna_keymap_ui.draw_kmi([], config, keymap, item, layout, 0)


def preferences_class() -> type[bpy.types.AddonPreferences]:
    """The class of the preferences; what belongs to a recipe has the recipe's own ranges and reasons."""

    def nothing(_group: Any, _context: bpy.types.Context) -> None:
        """A preference changes no wearer that is there."""

    text: Callable[..., Any] = StringProperty
    choice: Callable[..., Any] = EnumProperty
    notes: dict[str, Any] = {
        "folder": text(
            name="Output Folder",
            description="Where the first wearer of a file exports to; empty for the folder of the file",
            subtype="DIR_PATH",
        ),
        "lengths": choice(name="Lengths", description="Unit of lengths that are said", items=LENGTHS),
    }
    for section in USUAL:
        for field in usual_fields(section):
            notes[field["name"]] = property_of(field, section, nothing, [])
    body = {
        "__annotations__": notes,
        "__module__": __name__,
        "__doc__": "What the maker has set for all files.",
        "bl_idname": PACKAGE,
        "draw": draw,
    }
    return type("SEALWRIGHT_AP_preferences", (bpy.types.AddonPreferences,), body)

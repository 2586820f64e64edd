# SPDX-License-Identifier: GPL-3.0-or-later
"""What the maker has set once for all files: where exports go, the printer and material of new wearers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .props import Fields, read_fields

if TYPE_CHECKING:
    import bpy

PACKAGE = (__package__ or "").rpartition(".")[0]
USUAL = {
    "printer": ("nozzle_mm", "layer_mm", "first_layer_mm", "line_mm", "bed_x_mm", "bed_y_mm", "bed_z_mm"),
    "allowance": ("material",),
}
"""Section of the recipe -> values that belong to the maker's workshop more than to a wearer."""


def usual_fields(section: str) -> Fields:
    """The fields of a section that the preferences hold too."""
    fields: Fields = next(f for f in read_fields() if f["name"] == section)["fields"]
    return [field for field in fields if field["name"] in USUAL[section]]


def preferences_of(context: bpy.types.Context) -> Any:
    """The maker's preferences; None while the extension is being switched off."""
    addon = context.preferences.addons.get(PACKAGE) if context.preferences else None
    return addon.preferences if addon else None

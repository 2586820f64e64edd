# SPDX-License-Identifier: GPL-3.0-or-later
"""Keys of the 3D view: one opens the menu of all steps, the others are for the maker to give."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy

from .menu import SEALWRIGHT_MT_steps

KEYMAP = "3D View"
FREE = ("preview_body", "build_parts", "edit_seal_line", "examine", "export_parts")
"""Steps with an entry but no key: hardly a key is free, and the maker knows which."""
_made: list[tuple[bpy.types.KeyMap, bpy.types.KeyMapItem]] = []


def start() -> None:
    """Add the entries; without a window there is no place for them."""
    manager = bpy.context.window_manager
    config = manager.keyconfigs.addon if manager else None
    if config is None:
        return
    keymap = config.keymaps.new(name=KEYMAP, space_type="VIEW_3D")
    menu: Any = keymap.keymap_items.new("wm.call_menu", "W", "PRESS", shift=True, alt=True)
    menu.properties.name = SEALWRIGHT_MT_steps.bl_idname
    _made.append((keymap, menu))
    for name in FREE:
        _made.append((keymap, keymap.keymap_items.new(f"sealwright.{name}", "NONE", "PRESS")))


def stop() -> None:
    """Take them out again."""
    while _made:
        keymap, item = _made.pop()
        keymap.keymap_items.remove(item)


def user_config(context: bpy.types.Context) -> bpy.types.KeyConfig | None:
    """The keys as the maker has set them; None without a window."""
    return context.window_manager.keyconfigs.user if context.window_manager else None


def entries(context: bpy.types.Context) -> Iterator[tuple[bpy.types.KeyMap, bpy.types.KeyMapItem]]:
    """Our entries as the maker has set them."""
    config = user_config(context)
    keymap: Any = config.keymaps.get(KEYMAP) if config else None
    for item in keymap.keymap_items if keymap else ():
        properties: Any = item.properties
        menu = getattr(properties, "name", "") if item.idname == "wm.call_menu" else ""
        if item.idname.startswith("sealwright.") or menu == SEALWRIGHT_MT_steps.bl_idname:
            yield keymap, item

# SPDX-License-Identifier: GPL-3.0-or-later
"""How far the scanned skin under the seal can be trusted, as part of the Seal Line panel."""

from __future__ import annotations

from typing import Any

import bpy

from ..model.trust_rows import WORDS, headline, notable_sectors, up_to_date
from ..model.wearers import SEALWRIGHT_PG_wearer
from ..model.words import told
from .header import write

ICONS = {"good": "CHECKMARK", "doubtful": "ERROR", "rescan": "CANCEL"}


def draw_trust(
    layout: bpy.types.UILayout, context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, width: int
) -> None:
    """The one verdict, then only what is not good with its reason; what was changed, and its map."""
    if not len(wearer.sectors) or not wearer.prepared:
        return
    box = layout.box()
    if not up_to_date(context, wearer):
        write(box, "The line or the band changed: preview the body to judge the skin again.", width - 30)
        return
    rows = notable_sectors(wearer.sectors)
    worst: Any = rows[0][1].verdict if rows else "good"
    write(box, headline(wearer.sectors), width - 30, ICONS[worst])
    fixes: set[str] = set()
    for index, row in rows:
        column = box.column(align=True)
        icon: Any = ICONS[row.verdict]
        text = f"{row.name.capitalize()}: {told(WORDS[row.verdict])}"
        button: Any = column.operator("sealwright.show_sector", text=text, icon=icon)
        button.index = index
        # the same mend is told once, under the first sector that wants it
        write(column, row.reason if row.fix in fixes else f"{row.reason} {row.fix}", width - 40, "BLANK1")
        fixes.add(row.fix)
    write(box, wearer.skin_changes, width - 30, "INFO")
    button = box.operator("sealwright.show_map", text="Show What Was Changed", icon="COLOR")
    button.kind = "skin"

# SPDX-License-Identifier: GPL-3.0-or-later
"""What a step needs, and what comes next: one sentence each, cheap enough for every redraw."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .seal_curve import seal_object
from .wearers import active_wearer, scan_of

if TYPE_CHECKING:
    import bpy


def need_wearer(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before a step of a wearer's job."""
    return "" if active_wearer(context) else "Add a wearer first (Scan panel)."


def need_scan(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the scan can be worked on."""
    wearer = active_wearer(context)
    if wearer is None:
        return need_wearer(context)
    if scan_of(context, wearer) is None:
        return f"{wearer.name} has no scan: select the scanned face and press Use Selected Mesh."
    return ""


def need_face(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before anything can be laid on the face."""
    missing = need_scan(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    return "" if wearer.prepared else "Find the face on the scan first (Landmarks panel)."


def need_line(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the seal line can be edited."""
    missing = need_face(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    return "" if seal_object(context, wearer) else "Lay the seal line first (Seal Line panel)."


def need_design(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before parts can be checked or exported."""
    missing = need_face(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    if wearer.quality != "FINAL":
        return "Build the parts in full quality first (Body panel)."
    return "A value changed since the parts were built: build again (Body panel)." if wearer.stale else ""


def next_step(context: bpy.types.Context) -> tuple[str, str]:
    """The sentence at the top of the tab, and the operator that does it (may be empty)."""
    wearer = active_wearer(context)
    if wearer is None:
        return "Next: select the scanned face and press Use Selected Mesh, or import a scan.", "take_scan"
    if scan_of(context, wearer) is None:
        return f"Next: give {wearer.name} a scan.", "take_scan"
    if not wearer.prepared:
        return "Next: find the face and its landmarks on the scan.", "find_face"
    if seal_object(context, wearer) is None:
        return (
            "Next: look at the landmarks, drag those that are off, then lay the seal line.",
            "lay_seal_line",
        )
    if wearer.quality == "NONE":
        return "Next: look at the seal line, then preview the body.", "preview_body"
    if wearer.stale or wearer.quality != "FINAL":
        return "Next: set values, then build all parts in full quality.", "build_parts"
    return "Next: read the checks, then export the parts.", "export_parts"

# SPDX-License-Identifier: GPL-3.0-or-later
"""What a step needs, and what comes next: one sentence each, cheap enough for every redraw."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..core.limits import limit
from ..model.fingerprint import changes, face_current, face_part, inputs_print
from ..model.landmarks import CONFIDENCE, PREFIX
from ..model.seal_curve import seal_object
from ..model.trust_rows import RESCAN, up_to_date
from ..model.wearers import active_wearer, scan_of, tagged
from ..view.line_marks import bad_places
from ..view.standing import line_current, parts_stale, stale

if TYPE_CHECKING:
    import bpy

    from ..model.wearers import SEALWRIGHT_PG_wearer

LINELESS = ("tube", "shell")  # kinds of body without a seal line
SURE = limit("landmark_confidence").value  # landmarks less sure than this are to be looked at


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
    if not wearer.prepared:
        return "Find the face on the scan first (Landmarks panel)."
    return "" if face_current(context, wearer) else face_stale(context, wearer)


def face_stale(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """That the face that was found is no longer the one of the scan, and what changed."""
    changed = changes(wearer.face_from, face_part(inputs_print(context, wearer)))
    return f"{' and '.join(changed[:1])} since the face was found: find it again (Landmarks panel)."


def need_line(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the seal line can be edited."""
    missing = need_face(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    return "" if seal_object(context, wearer) else "Lay the seal line first (Seal Line panel)."


def need_design(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before parts can be checked or exported."""
    missing = need_scan(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    if wearer.quality != "FINAL":
        return "Build the parts in full quality first (Body panel)."
    return parts_stale(context, wearer)


def next_step(context: bpy.types.Context) -> tuple[str, str]:
    """The sentence at the top of the tab, and the operator that does it (may be empty)."""
    wearer = active_wearer(context)
    if wearer is None:
        return "Next: select the scanned face and press Use Selected Mesh, or import a scan.", "take_scan"
    if scan_of(context, wearer) is None:
        return f"Next: give {wearer.name} a scan.", "take_scan"
    if not wearer.prepared:
        return "Next: find the face and its landmarks on the scan.", "find_face"
    if wearer.quality == "NONE" and not face_current(context, wearer):
        return f"Next: {_small(face_stale(context, wearer))}", "find_face"
    if seal_object(context, wearer) is None and wearer.recipe.kind not in LINELESS:
        return (
            "Next: look at the landmarks, drag those that are off, then lay the seal line.",
            "lay_seal_line",
        )
    if wearer.quality == "NONE":
        return "Next: look at the seal line, then preview the body.", "preview_body"
    if wearer.quality == "FINAL" and stale(context, wearer):
        return f"Next: {_small(parts_stale(context, wearer))}", "build_parts"
    if stale(context, wearer):
        return f"Next: {_small(parts_stale(context, wearer))}", "preview_body"
    if wearer.quality != "FINAL":
        return "Next: set values, then build all parts in full quality.", "build_parts"
    return "Next: read the checks, then export the parts.", "export_parts"


def _small(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def hint(context: bpy.types.Context, panel: str) -> str:
    """The sentence at the top of one panel: what to do there next, or what is missing first.

    Parameters
    ----------
    panel : "scan", "landmarks", "seal_line", "body", "ports", "straps", "checks" or "print".
    """
    wearer = active_wearer(context)
    if wearer is None or need_scan(context):
        return "Select the scanned face and press Use Selected Mesh, or import a scan."
    if panel == "scan":
        return "Check the unit: a face is 100 to 140 mm from nose root to chin. Then find the face."
    return HINTS[panel](context, wearer)


def _landmarks_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if not wearer.prepared:
        return "Press Find Face. If it is not found, show where it is by Three Clicks and press it again."
    if not face_current(context, wearer):
        return face_stale(context, wearer)
    unsure = [name for name, obj in tagged(wearer, PREFIX) if _sure(obj) < SURE]
    if unsure:
        return f"Points to look at and to drag where they are off: {len(unsure)}. Then lay the seal line."
    return "Look at the points and drag those that are off; then lay the seal line."


def _sure(obj: bpy.types.Object) -> float:
    """How sure a landmark is; one set by hand is as sure as its maker."""
    return float(obj.get(CONFIDENCE, 1.0))  # type: ignore[no-untyped-call]


def _line_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if seal_object(context, wearer) is None:
        return (
            need_face(context) or "Lay the proposed line, then look whether it stays on bone and firm skin."
        )
    if not face_current(context, wearer):
        return face_stale(context, wearer)
    if not line_current(context, wearer):
        return "What the line is proposed from changed: lay it again, or preview the body."
    bad = bad_places(context, wearer)
    if bad:
        return f"Places marked in the view as too sharp, too near a feature, or off the scan: {bad}."
    if any(row.verdict == RESCAN for row in wearer.sectors) and up_to_date(context, wearer):
        return "The scan is not good enough at the places named below: scan again, or move the line off them."
    return "Drag the points where you want the seal; then preview the body."


def _body_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if wearer.quality == "NONE":
        return "Preview the body; it then follows every value."
    if stale(context, wearer):
        return parts_stale(context, wearer)
    if wearer.quality != "FINAL":
        return "Set values, then build all parts."
    return "Built in full quality; read the checks."


def _fittings_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if stale(context, wearer):
        return parts_stale(context, wearer)
    return "Set the values; the preview shows them, the parts follow when they are built."


def _checks_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    missing = need_design(context)
    failed = sum(row.verdict == "fail" for row in wearer.checks)
    if missing:
        return missing
    if failed:
        return f"Checks that failed: {failed}. Click one to see its place, mend what it names, build again."
    return (
        "Read what is marked, then export."
        if wearer.headline
        else "Press Examine for pressure, leak and print."
    )


def _print_hint(context: bpy.types.Context, _wearer: SEALWRIGHT_PG_wearer) -> str:
    return need_design(context) or "Choose folder and names, then export the parts and read the report."


HINTS = {
    "landmarks": _landmarks_hint,
    "seal_line": _line_hint,
    "body": _body_hint,
    "ports": _fittings_hint,
    "straps": _fittings_hint,
    "checks": _checks_hint,
    "print": _print_hint,
}

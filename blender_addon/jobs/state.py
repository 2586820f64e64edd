# SPDX-License-Identifier: GPL-3.0-or-later
"""What a step needs, and what comes next: one sentence each, cheap enough for every redraw."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ..core.limits import limit
from ..model.fingerprint import changes, face_current, face_part, inputs_print
from ..model.landmarks import CONFIDENCE, PREFIX
from ..model.own_objects import OWN, SHELL, TRIM, cage_object, model_object, outline_object
from ..model.seal_curve import seal_object
from ..model.trust_rows import RESCAN, up_to_date
from ..model.wearers import active_wearer, scan_of, tagged
from ..model.words import told
from ..view.line_marks import bad_places
from ..view.messages import state_of, window_state
from ..view.standing import line_current, parts_stale, stale

if TYPE_CHECKING:
    import bpy

    from ..model.wearers import SEALWRIGHT_PG_wearer

STEPS = ("scan", "landmarks", "seal_line", "body", "ports", "straps", "checks", "print")
"""The panels of the job, in its order."""

LINELESS = ("tube", *OWN)  # kinds of body without a seal line
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
        return told(
            "{wearer} has no scan: select the scanned face and press Use Selected Mesh.", wearer=wearer.name
        )
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
    why = told(changed[0]) if changed else ""
    return told("{why} since the face was found: find it again (Landmarks panel).", why=why)


def need_line(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the seal line can be edited."""
    missing = need_face(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    if wearer.recipe.kind in OWN:
        return "A shape of your own has no seal line."
    return "" if seal_object(context, wearer) else "Lay the seal line first (Seal Line panel)."


def need_mask(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before a mask can be sketched: a shape of one's own is built at once."""
    wearer = active_wearer(context)
    if wearer is not None and wearer.recipe.kind in OWN:
        return "A shape of your own has no preview: press Build All Parts."
    return need_scan(context)


def need_outline(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before the outline of a shell can be edited."""
    wearer = active_wearer(context)
    if wearer is None or wearer.recipe.kind != SHELL or outline_object(context, wearer) is None:
        return need_scan(context) or "Draw the outline of a shell first (Body panel)."
    return need_scan(context)


def need_shell(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before a shell can have openings."""
    wearer = active_wearer(context)
    if wearer is not None and wearer.recipe.kind != SHELL:
        return "Choose the kind Shell first, or draw an outline."
    return need_wearer(context)


def need_shape(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before a port or a lug can be stood on a mask or an own shape."""
    wearer = active_wearer(context)
    if wearer is not None and wearer.recipe.kind == "tube":
        return "Ports, lugs and cuts of your own are for masks, shells and trimmed models."
    return need_face(context)


def need_design(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before parts can be checked or exported."""
    missing = need_scan(context)
    wearer = active_wearer(context)
    if missing or wearer is None:
        return missing
    if wearer.quality != "FINAL":
        return "Build the parts in full quality first (Body panel)."
    return parts_stale(context, wearer)


def need_sharing(context: bpy.types.Context) -> str:
    """Nothing, or what is missing before a scene can be given away: it carries no shapes of one's own."""
    wearer = active_wearer(context)
    own = wearer is not None and (wearer.recipe.kind in OWN or cage_object(context, wearer) is not None)
    if own:
        return "A scene with a shape of your own cannot be shared: it carries the skin and the recipe alone."
    return need_design(context)


class Next(NamedTuple):
    """The sentence at the top of the tab, the operator that does it (may be empty), the panel about it."""

    said: str
    operator: str
    panel: str


def next_step(context: bpy.types.Context) -> Next:
    """What comes next."""
    wearer = active_wearer(context)
    if wearer is None:
        said = "Next: select the scanned face and press Use Selected Mesh, or import a scan."
        return Next(said, "take_scan", "scan")
    if scan_of(context, wearer) is None:
        return Next(told("Next: give {wearer} a scan.", wearer=wearer.name), "take_scan", "scan")
    if not wearer.prepared:
        return Next("Next: find the face and its landmarks on the scan.", "find_face", "landmarks")
    if wearer.quality == "NONE" and not face_current(context, wearer):
        return Next(_next(face_stale(context, wearer)), "find_face", "landmarks")
    if seal_object(context, wearer) is None and wearer.recipe.kind not in LINELESS:
        said = "Next: look at the landmarks, drag those that are off, then lay the seal line."
        return Next(said, "lay_seal_line", "landmarks")
    if wearer.recipe.kind in OWN and wearer.quality != "FINAL":
        return _own_next(context, wearer)
    if wearer.quality == "NONE":
        panel = "body" if wearer.recipe.kind in LINELESS else "seal_line"
        return Next("Next: look at the seal line, then preview the body.", "preview_body", panel)
    return _after_the_preview(context, wearer)


def _own_next(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Next:
    """What comes next for a shape of the maker's own that is not built yet."""
    if wearer.recipe.kind == SHELL and outline_object(context, wearer) is None:
        said = "Next: draw the outline of the shell on the skin, or select its faces on the scan."
        return Next(said, "draw_outline", "body")
    if wearer.recipe.kind == TRIM and model_object(context, wearer) is None:
        said = "Next: model a closed mesh that reaches into the face, select it and use it."
        return Next(said, "use_model", "body")
    return Next("Next: look at your shape, then build it.", "build_parts", "body")


def _after_the_preview(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Next:
    full = wearer.quality == "FINAL"
    if stale(context, wearer):
        said = _next(parts_stale(context, wearer))
        return Next(said, "build_parts" if full else "preview_body", "body")
    if not full:
        return Next("Next: set values, then build all parts in full quality.", "build_parts", "body")
    if window_state(context).report_of == state_of(context, wearer):
        return Next("Next: read the report, print the parts, and test the fit on the wearer.", "", "print")
    return Next("Next: read the checks, then export the parts.", "export_parts", "checks")


def _next(sentence: str) -> str:
    return told("Next: {sentence}", sentence=sentence[:1].lower() + sentence[1:])


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
        return told(
            "Points to look at and to drag where they are off: {count}. Then lay the seal line.",
            count=len(unsure),
        )
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
        return told(
            "Places marked in the view as too sharp, too near a feature, or off the scan: {count}.", count=bad
        )
    if any(row.verdict == RESCAN for row in wearer.sectors) and up_to_date(context, wearer):
        return "The scan is not good enough at the places named below: scan again, or move the line off them."
    return "Drag the points where you want the seal; then preview the body."


def _body_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if wearer.recipe.kind in OWN and wearer.quality != "FINAL":
        return OWN_HINTS[wearer.recipe.kind]
    if wearer.quality == "NONE":
        return "Preview the body; it then follows every value."
    if stale(context, wearer):
        return parts_stale(context, wearer)
    if wearer.quality != "FINAL":
        return "Set values, then build all parts."
    return "Built in full quality; read the checks."


OWN_HINTS = {
    SHELL: "Draw the outline on the skin, or select faces, or paint a vertex group; then build.",
    TRIM: "Model a closed mesh, let it reach into the face, take it as the model; then build.",
}


def _fittings_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    if stale(context, wearer):
        return parts_stale(context, wearer)
    if wearer.recipe.kind in OWN:
        return "Put ports, lugs and cuts on your shape; they are built with it."
    return "Set the values; the preview shows them, the parts follow when they are built."


def _checks_hint(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    missing = need_design(context)
    failed = sum(row.verdict == "fail" for row in wearer.checks)
    if missing:
        return missing
    if failed:
        return told(
            "Checks that failed: {count}. Click one to see its place, mend what it names, build again.",
            count=failed,
        )
    if wearer.headline:
        return "Read what is marked, then export."
    if wearer.recipe.kind in OWN:
        return "Press Examine for soundness and print."
    return "Press Examine for pressure, leak and print."


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

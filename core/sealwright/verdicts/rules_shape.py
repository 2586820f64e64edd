"""Rules on the body: contact, width, entry into the face, clearance, wall, soundness of the parts."""

from __future__ import annotations

from collections.abc import Iterator

from ..limits import limit
from .measured import Measured
from .rule import Finding, Rule, at_least, at_most


def _contact(measured: Measured) -> Iterator[Finding]:
    if measured.contact is None:
        return
    found, error = measured.contact.found, measured.scan.smoothing_bound_mm
    # A seated cushion springs out into a gap of its reach, and yields by as much where the body is nearer.
    off = max(found.largest_deviation_mm - found.cushion_reach_mm, 0.0)
    good, sure = limit("contact_deviation"), limit("contact_deviation_with_error")
    most, bears = limit("contact_deviation_bearable"), limit("contact_deviation_bearable_with_error")
    yield Finding(
        key="contact.share",
        value=found.contact_share,
        unit="1",
        limit=limit("line_in_contact").value,
        basis=good,
        passes=(at_most(off, good), at_most(off + error, sure)),
        bears=(at_most(off, most), at_most(off + error, bears)),
        share=True,
        words={
            "percent": 100 * found.contact_share,
            "furthest": found.largest_deviation_mm,
            "good": good.value,
            "sure": sure.value,
            "most": most.value,
            "bears": bears.value,
            "error": error,
            "touch": found.touch_mm,
            "spring": found.cushion_reach_mm,
            "wanted": measured.contact.wanted_gap_mm,
        },
        reason="reason_cushion" if found.cushion_reach_mm > 0.0 else "reason",
    )


def _width(measured: Measured) -> Iterator[Finding]:
    if measured.contact is None:
        return
    width, wanted = measured.contact.found.band_width_min_mm, measured.contact.wanted_width_mm
    share = limit("band_width_share")
    least = min(limit("band_width_least_share").value * wanted, limit("band_width_least_mm").value)
    unsure = limit("band_width_per_error").value * measured.scan.smoothing_bound_mm
    yield Finding(
        key="contact.band_width_min_mm",
        value=width,
        unit="mm",
        limit=share.value * wanted,
        basis=share,
        passes=(at_least(width - unsure, share.value * wanted),),
        bears=(at_least(width - unsure, least),),
        words={
            "wanted": wanted,
            "share": 100 * share.value,
            "least": least,
            "unsure": unsure,
            "width": width,
        },
    )


def _entry(measured: Measured) -> Iterator[Finding]:
    entry, error = measured.clearance.entry_mm, measured.scan.smoothing_bound_mm
    if entry is None:
        return
    good, sure = limit("entry"), limit("entry_with_error")
    most, bears = limit("entry_bearable"), limit("entry_bearable_with_error")
    yield Finding(
        key="clearance.entry_mm",
        value=entry,
        unit="mm",
        limit=good.value,
        basis=good,
        passes=(at_most(entry, good), at_most(entry + error, sure)),
        bears=(at_most(entry, most), at_most(entry + error, bears)),
        words={
            "good": good.value,
            "sure": sure.value,
            "most": most.value,
            "bears": bears.value,
            "error": error,
            "entry": entry,
        },
    )


def _clearance(measured: Measured) -> Iterator[Finding]:
    near, wanted = measured.clearance.nose_lips_mm, measured.clearance.wanted_mm
    good, least, error = limit("clearance_good"), limit("clearance_least"), measured.scan.smoothing_bound_mm
    if near is None or wanted is None:
        return
    asked = min(wanted, good.value)
    yield Finding(
        key="clearance.nose_lips_mm",
        value=near,
        unit="mm",
        limit=asked,
        basis=good,
        passes=(at_least(near - error, asked),),
        bears=(at_least(near - error, least),),
        words={
            "wanted": wanted,
            "asked": asked,
            "error": error,
            "least": least.value,
            "near": near,
        },
    )


def _wall(measured: Measured) -> Iterator[Finding]:
    wall, even, least = measured.wall, limit("wall_deviation_share"), limit("wall_least_share")
    if wall is None:
        return
    wanted = wall.wanted_mm
    yield Finding(
        key="wall.min_mm",
        value=wall.min_mm,
        unit="mm",
        limit=(1.0 - even.value) * wanted,
        basis=even,
        passes=(
            at_least(wall.min_mm, (1.0 - even.value) * wanted),
            at_most(wall.max_mm, (1.0 + even.value) * wanted),
        ),
        bears=(at_least(wall.min_mm, least.value * wanted),),
        words={
            "wanted": wanted,
            "even": 100 * even.value,
            "low": (1.0 - even.value) * wanted,
            "high": (1.0 + even.value) * wanted,
            "least": least.value * wanted,
            "thinnest": wall.min_mm,
            "thickest": wall.max_mm,
            "percent": 100 * wall.within_10_percent_share,
        },
    )


def _soundness(measured: Measured) -> Iterator[Finding]:
    for name, problems in measured.problems.items():
        count = float(len(problems))
        yield Finding(
            key=f"parts.{name}.soundness",
            value=count,
            unit="1",
            limit=limit("part_faults").value,
            basis=limit("part_faults"),
            passes=(at_most(count, limit("part_faults")),),
            bears=None,
            words={"part": name, "problems": ", ".join(problems)},
            reason="reason_bad" if problems else "reason",
        )


SHAPE_RULES = (
    Rule("contact.share", _contact),
    Rule("contact.band_width_min_mm", _width),
    Rule("clearance.entry_mm", _entry),
    Rule("clearance.nose_lips_mm", _clearance),
    Rule("wall.min_mm", _wall),
    Rule("parts.*.soundness", _soundness),
)

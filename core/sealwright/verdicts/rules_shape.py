"""Rules on the body: contact, width, entry into the face, clearance, wall, soundness of the parts."""

from __future__ import annotations

from collections.abc import Iterator

from ..limits import limit
from .measured import Measured
from .rule import Finding, Rule, at_least, at_most


def _contact(measured: Measured) -> Iterator[Finding]:
    if measured.contact is None:
        return
    found, line = measured.contact.found, limit("line_in_contact")
    yield Finding(
        key="contact.share",
        value=found.contact_share,
        unit="1",
        limit=line.value,
        basis=line,
        passes=(at_least(found.contact_share, line),),
        bears=None,
        share=True,
        words={
            "percent": 100 * found.contact_share,
            "furthest": found.largest_deviation_mm,
            "touch": limit("touch").value,
            "bound": found.touch_mm - limit("touch").value,
            "edge": found.touch_mm + found.cushion_reach_mm,
            "spring": found.cushion_reach_mm,
            "wanted": measured.contact.wanted_gap_mm,
        },
    )


def _width(measured: Measured) -> Iterator[Finding]:
    if measured.contact is None:
        return
    width, wanted = measured.contact.found.band_width_min_mm, measured.contact.wanted_width_mm
    lack, least = limit("band_width_lack"), limit("band_width_least_share")
    asked = at_least(width, wanted, lack.value)
    yield Finding(
        key="contact.band_width_min_mm",
        value=width,
        unit="mm",
        limit=asked.edge,
        basis=lack,
        passes=(asked,),
        bears=(at_least(width, least.value * wanted),),
        words={
            "wanted": wanted,
            "lack": lack.value,
            "edge": asked.edge,
            "least": 100 * least.value,
            "width": width,
        },
    )


def _entry(measured: Measured) -> Iterator[Finding]:
    entry, most = measured.clearance.entry_mm, limit("entry")
    if entry is None:
        return
    bearable = at_most(entry, most, measured.scan.smoothing_bound_mm)
    yield Finding(
        key="clearance.entry_mm",
        value=entry,
        unit="mm",
        limit=most.value,
        basis=most,
        passes=(at_most(entry, most),),
        bears=(bearable,),
        words={"most": most.value, "bound": bearable.addition, "edge": bearable.edge, "entry": entry},
    )


def _clearance(measured: Measured) -> Iterator[Finding]:
    near, wanted = measured.clearance.nose_lips_mm, measured.clearance.wanted_mm
    lack, least = limit("clearance_lack"), limit("clearance_least")
    if near is None or wanted is None:
        return
    asked = at_least(near, wanted, lack.value)
    yield Finding(
        key="clearance.nose_lips_mm",
        value=near,
        unit="mm",
        limit=asked.edge,
        basis=least,
        passes=(asked,),
        bears=(at_least(near, least),),
        words={
            "wanted": wanted,
            "lack": lack.value,
            "edge": asked.edge,
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

"""Verdicts on scan and shape: contact, entry, clearance, wall, soundness of the parts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..checks.fit import TOUCH_MM
from ..facepiece.seal_line_proposal import NEEDED
from .rules_trust import trust_verdict
from .verdict import Verdict, graded
from .words import seen_landmark

_INVARIANT = "project invariant: 0.05 mm plus the stated smoothing bound"
_LEAST_CLEARANCE_MM = 2.0
_PRACTICE = "common practice, no source"


def shape_verdicts(report: dict[str, Any]) -> Iterator[Verdict]:
    """Judge the sections about scan and shape; sections that are None are passed over."""
    yield from _scan(report["scan"], report["landmarks"])
    if report["trust"] is not None:
        yield trust_verdict(report["trust"])
    if report["contact"] is not None:
        yield from _contact(report["contact"], report["scan"]["smoothing_bound_mm"])
    yield from _clearance(report["clearance"], report["scan"]["smoothing_bound_mm"])
    if report["wall"] is not None:
        yield _wall(report["wall"])
    for name, part in report["parts"].items():
        yield _soundness(name, part["soundness"])


def _scan(scan: dict[str, Any], landmarks: dict[str, Any]) -> Iterator[Verdict]:
    noise = scan["noise_mm"]
    yield Verdict(
        "scan.noise_mm",
        "Noise of the scan",
        graded(noise <= 0.5, noise <= 1.5),
        noise,
        "mm",
        0.5,
        "at most 0.5 mm, above 1.5 mm untrusted",
        f"The scanned skin scatters by {noise:.2f} mm.",
        "" if noise <= 0.5 else "Scan again with more light and slower passes, and average several scans.",
        "reading scale for face scanners: under 1.0 mm reliable, over 2.0 mm not (mdpi 2227-9067/9/9/1390); "
        "our thresholds are stricter",
        "V for the scale, M for ours",
    )
    share = scan["guessed_share_under_band"]
    if share is not None:
        yield Verdict(
            "scan.guessed_share_under_band",
            "Guessed skin under the band",
            graded(share == 0.0, share <= 0.05),
            share,
            "1",
            0.0,
            "none; above 5 % untrusted",
            f"{100 * share:.1f} % of the contact band lies on skin that was filled, not scanned.",
            "" if share == 0.0 else "Rescan with that skin in view, or move the seal line off it.",
        )
    away, allowed = scan["band_to_scan_p95_mm"], TOUCH_MM + scan["smoothing_bound_mm"]
    if away is not None:
        yield Verdict(
            "scan.band_to_scan_p95_mm",
            "Skin under the band against the raw scan",
            graded(away <= allowed, True),
            away,
            "mm",
            allowed,
            f"95 % within {allowed:.2f} mm: {TOUCH_MM:g} mm plus the smoothing bound",
            f"95 % of the skin that was designed on lies within {away:.3f} mm of the scan under the band, "
            f"all of it within {scan['band_to_scan_max_mm']:.3f} mm.",
            "" if away <= allowed else "Smooth less, or scan the place again: spikes and folds are cut off.",
            _INVARIANT,
        )
    unsure = [n for n in NEEDED if n in landmarks and landmarks[n]["confidence"] < 0.6]
    seen = ", ".join(seen_landmark(name) for name in unsure)
    least = min((landmarks[n]["confidence"] for n in NEEDED if n in landmarks), default=0.0)
    yield Verdict(
        "landmarks",
        "Landmarks the seal line stands on",
        graded(not unsure, least > 0.2),
        least,
        "1",
        0.6,
        "confidence at least 0.6 for each",
        f"Unsure: {seen}." if unsure else f"The least sure has a confidence of {least:.2f}.",
        "Look at them in the picture and set those that are off by hand." if unsure else "",
    )


def _contact(contact: dict[str, Any], bound: float) -> Iterator[Verdict]:
    share, gap = contact["share"], max(abs(contact["gap_max_mm"]), abs(contact["gap_min_mm"]))
    yield Verdict(
        "contact.share",
        "Contact along the seal line",
        graded(share >= 1.0, gap <= TOUCH_MM + bound),
        share,
        "1",
        1.0,
        f"100 % of the line within {TOUCH_MM:g} mm of the wanted gap",
        f"{100 * share:.1f} % of the seal line follows the skin; the largest deviation is {gap:.3f} mm.",
        "" if share >= 1.0 else "Move the seal line off the place shown in the strip chart, or smooth less.",
        _INVARIANT,
    )
    width, wanted = contact["band_width_min_mm"], contact["wanted_width_mm"]
    yield Verdict(
        "contact.band_width_min_mm",
        "Width of the contact band",
        graded(width >= wanted - 0.1, width >= 0.6 * wanted),
        width,
        "mm",
        wanted,
        f"at least the {wanted:g} mm asked for; under 60 % of it fails",
        f"The narrowest place touches over {width:.1f} mm.",
        "" if width >= wanted - 0.1 else "Widen the band, or move the seal line off folds of the skin.",
        _PRACTICE,
    )


def _clearance(section: dict[str, Any], bound: float) -> Iterator[Verdict]:
    entry = section["entry_mm"]
    if entry is not None:
        yield Verdict(
            "clearance.entry_mm",
            "Entry into the face",
            graded(entry <= TOUCH_MM, entry <= TOUCH_MM + bound),
            entry,
            "mm",
            TOUCH_MM,
            f"at most {TOUCH_MM:g} mm anywhere; more than that and the smoothing bound fails",
            f"The deepest point lies {entry:.3f} mm inside the skin.",
            "" if entry <= TOUCH_MM else "Raise the stand-off or move the seal line off this place.",
            _INVARIANT,
        )
    near, wanted = section["nose_lips_mm"], section["wanted_mm"]
    if near is not None and wanted is not None:
        good = near >= wanted - TOUCH_MM
        yield Verdict(
            "clearance.nose_lips_mm",
            "Clearance to nose and lips",
            graded(good, near >= _LEAST_CLEARANCE_MM),
            near,
            "mm",
            wanted,
            f"at least the {wanted:g} mm asked for; under {_LEAST_CLEARANCE_MM:g} mm fails",
            f"The wall comes as near as {near:.1f} mm to nose or lips.",
            "" if good else "Move the port forward, raise the clearance, or lower the seal line at the nose.",
            _PRACTICE,
        )


def _wall(wall: dict[str, Any]) -> Verdict:
    least, wanted = wall["min_mm"], wall["wanted_mm"]
    good = least >= 0.9 * wanted and wall["max_mm"] <= 1.1 * wanted
    return Verdict(
        "wall.min_mm",
        "Thickness of the chamber wall",
        graded(good, least >= 0.8 * wanted),
        least,
        "mm",
        0.8 * wanted,
        f"within 10 % of {wanted:g} mm, never under {0.8 * wanted:.2f} mm",
        f"The wall is {least:.2f} to {wall['max_mm']:.2f} mm thick; "
        f"{100 * wall['within_10_percent_share']:.1f} % of it keeps within 10 %.",
        "" if good else "Look at the thickness map; a larger fillet or a rounder seal line evens the wall.",
        "project invariant",
    )


def _soundness(name: str, found: dict[str, Any]) -> Verdict:
    problems = found["problems"]
    return Verdict(
        f"parts.{name}.soundness",
        f"Soundness of the {name}",
        graded(found["sound"], False),
        float(len(problems)),
        "1",
        0.0,
        "one piece, watertight, outward, no crossings",
        f"It has {', '.join(problems)}." if problems else "One closed, outward piece without crossings.",
        "Undo the last change of shape there; report it with the recipe if it stays." if problems else "",
        "project invariant",
    )

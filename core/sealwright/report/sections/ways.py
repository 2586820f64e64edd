"""Section of the report about the ways up that the body can print in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from ...predict.ways import WayUp
from ...printing.printer import WAYS_UP
from ...verdicts.sentences import filled, sentences


def ways_section(ways: Sequence[WayUp]) -> list[dict[str, object]] | None:
    """Each way up with its numbers, and the same in a line; None where none was rated."""
    if not ways:
        return None
    return [{**asdict(one), "told": told_of_way(one)} for one in ways]


def told_of_way(one: WayUp) -> str:
    """A way up in a line."""
    words = sentences("ways")
    values: dict[str, str | int | float] = {
        "way": WAYS_UP[one.way],
        "height": one.height_mm,
        "layers": one.layers,
        "hours": one.time_min / 60.0,
        "median": one.cusp_median_mm,
        "high": one.cusp_p95_mm,
        "ribs": one.ribs_g,
        "scarred": 100.0 * one.scarred_share,
        "front": one.port_front_mm or 0.0,
        "why": one.refused,
    }
    supports = "ribs_rated" if one.supports == "ribs" and not one.exact else one.supports
    parts = ["line", supports, "refused" if one.refused else "front" if one.port_front_mm else ""]
    return " ".join(filled(words[part], values) for part in parts if part)

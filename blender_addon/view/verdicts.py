# SPDX-License-Identifier: GPL-3.0-or-later
"""Checks as the panel shows them: quick ones after a build, the report's own after an examination.

Both carry the place to look at and the map that shows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.jobs.make import Made

    Spot = tuple[NDArray[np.float64] | None, str]

TOUCH_MM = 0.05  # design invariants 2 and 3: contact and entry
THIN_SHARE = 0.8  # design invariant 4: the wall is never under 80 % of what was asked


@dataclass(frozen=True)
class Verdict:
    """One check.

    Attributes
    ----------
    label : what is checked.
    value : what was found, with its unit.
    limit : what is asked, with its unit.
    verdict : "pass", "warn" or "fail".
    fix : what to do about it; empty when passed.
    point : (3,) mm in the face frame where it is worst, or None.
    map : the map that shows it, or "".
    """

    label: str
    value: str
    limit: str
    verdict: str
    fix: str = ""
    point: NDArray[np.float64] | None = None
    map: str = ""


def spots_of(made: Design) -> dict[str, Spot]:
    """Where each measurement of a finished body is at its worst, and its map, by the report's key."""
    from ..core.checks.wall import check_clearance, clear_side

    if made.fit is None or made.wall is None or made.seal_line is None or made.shell is None:
        return {}
    line = made.seal_line.points
    shell, wanted = made.shell, made.recipe.chamber.clearance_mm
    _, near = check_clearance(
        made.prepared.nose_and_lips, shell.chamber_side[:, 0], clear_side(shell), wanted
    )
    return {
        "contact.share": (line[int(np.argmax(np.abs(made.fit.seal_gap)))], "gap"),
        "contact.band_width_min_mm": (line[int(np.argmin(made.fit.width))], "gap"),
        "clearance.nose_lips_mm": (near, ""),
        "wall.min_mm": (made.wall.places[int(np.argmin(made.wall.thickness))], "wall"),
    }


def verdicts_of(made: Design) -> list[Verdict]:
    """The quick checks of a design (a plain tube has only its entry into the face)."""
    entry = float(made.facts["entry_mm"])
    into = _judged("Entry into the face", entry, f"at most {TOUCH_MM} mm", entry <= TOUCH_MM, (None, ""))
    if made.fit is None or made.wall is None:
        return [into]
    spots, asked = spots_of(made), made.recipe.band.width_mm
    gap, width = float(np.abs(made.fit.seal_gap).max()), float(made.fit.width.min())
    thin, wall = float(made.wall.thickness.min()), THIN_SHARE * made.recipe.chamber.wall_mm
    near, room = float(made.facts["clearance_nose_lips_mm"]), made.recipe.chamber.clearance_mm
    at = spots.__getitem__
    return [
        _judged(
            "Largest gap along the seal line",
            gap,
            f"at most {TOUCH_MM} mm",
            gap <= TOUCH_MM,
            at("contact.share"),
        ),
        _judged(
            "Width of the contact band",
            width,
            f"at least {asked:.1f} mm",
            width >= asked - 0.1,
            at("contact.band_width_min_mm"),
        ),
        into,
        _judged(
            "Room before nose and lips",
            near,
            f"at least {room:.1f} mm",
            near >= room,
            at("clearance.nose_lips_mm"),
        ),
        _judged("Thinnest wall", thin, f"at least {wall:.2f} mm", thin >= wall, at("wall.min_mm")),
    ]


def _judged(label: str, value_mm: float, limit: str, good: bool, spot: Spot) -> Verdict:
    return Verdict(label, f"{value_mm:.2f} mm", limit, "pass" if good else "fail", "", *spot)


def judged_of(made: Made) -> list[Verdict]:
    """The report's verdicts, failures first, then warnings."""
    spots = spots_of(made.design)
    spots["prediction.comfort.high_kpa"] = _pressed(made)
    spots["trust"] = _doubted(made)
    rows = []
    for word in ("fail", "warn", "pass"):
        for row in made.report["verdicts"]:
            if row["verdict"] == word:
                point, shown = spots.get(row["key"], (None, ""))
                shown = shown if point is not None else ""
                rows.append(
                    Verdict(row["topic"], _number(row), row["limit_text"], word, row["fix"], point, shown)
                )
    return rows


def _doubted(made: Made) -> Spot:
    """The middle of the sector whose scanned skin can be trusted least, unless all are good."""
    sectors = (made.report["trust"] or {"sectors": ()})["sectors"]
    for verdict in ("rescan", "doubtful"):
        for sector in sectors:
            if sector["verdict"] == verdict:
                return np.array(sector["point_mm"]), ""
    return None, ""


def _pressed(made: Made) -> Spot:
    """Where the mask is predicted to press hardest."""
    found = made.prediction
    if found is None or found.contact is None or made.design.fit is None:
        return None, ""
    points = made.design.fit.places[:, ::-1].reshape(-1, 3)  # the physics counts rows from the inner side
    return points[int(np.argmax(found.contact.pressure_kpa))], "pressure"


def _number(row: dict[str, Any]) -> str:
    """The number with its unit; shares as percentages."""
    if row["value"] is None:
        return "unknown"
    if row["unit"] == "1" and row["limit"] is not None and 0.0 <= row["limit"] <= 1.0:
        return f"{100 * row['value']:.0f} %"
    return f"{row['value']:.3g}" + ("" if row["unit"] == "1" else f" {row['unit']}")

# SPDX-License-Identifier: GPL-3.0-or-later
"""Pass or fail of a finished design, each with its value, its limit and the place to look at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .core.design import Design

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
    passed : whether it holds.
    point : (3,) mm in the face frame where it is worst, or None.
    map : the map that shows it, or "".
    """

    label: str
    value: str
    limit: str
    passed: bool
    point: NDArray[np.float64] | None = None
    map: str = ""


def verdicts_of(made: Design) -> list[Verdict]:
    """The checks of a design, the most important first (a plain tube has only its entry into the face)."""
    entry = float(made.facts["entry_mm"])
    into = Verdict("Into the face", f"{entry:.2f} mm", f"at most {TOUCH_MM} mm", entry <= TOUCH_MM)
    if made.fit is None or made.wall is None or made.seal_line is None or made.shell is None:
        return [into]
    gap = np.abs(made.fit.seal_gap)
    open_place = made.seal_line.points[int(np.argmax(gap))]
    width, asked = made.fit.width, made.recipe.band.width_mm
    narrow = made.seal_line.points[int(np.argmin(width))]
    thickness, wanted = made.wall.thickness, made.recipe.chamber.wall_mm
    return [
        Verdict(
            "Contact along the seal line",
            f"{100 * float(np.mean(made.fit.in_contact)):.1f} %",
            f"100 % within {TOUCH_MM} mm",
            bool(made.fit.in_contact.all()),
            open_place,
            "gap",
        ),
        Verdict(
            "Largest gap",
            f"{gap.max():.3f} mm",
            f"at most {TOUCH_MM} mm",
            bool(gap.max() <= TOUCH_MM),
            open_place,
            "gap",
        ),
        Verdict(
            "Width in contact",
            f"{width.min():.1f} mm",
            f"at least {0.9 * asked:.1f} mm",
            bool(width.min() >= 0.9 * asked),
            narrow,
            "gap",
        ),
        into,
        _clearance(made),
        Verdict(
            "Thinnest wall",
            f"{thickness.min():.2f} mm",
            f"at least {THIN_SHARE * wanted:.2f} mm",
            bool(thickness.min() >= THIN_SHARE * wanted),
            made.wall.places[int(np.argmin(thickness))],
            "wall",
        ),
    ]


def _clearance(made: Design) -> Verdict:
    """Room before nose and lips; the place is found again, the design keeps only the number."""
    from .core.checks.wall import check_clearance

    assert made.shell is not None
    near, place = check_clearance(made.prepared.nose_and_lips, made.shell)
    asked = made.recipe.chamber.clearance_mm
    # 0.5 mm: the wall is fitted on a coarse grid and keeps the clearance on the average of a cell
    return Verdict(
        "Room before nose and lips", f"{near:.1f} mm", f"at least {asked:.1f} mm", near >= asked - 0.5, place
    )

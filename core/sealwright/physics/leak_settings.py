"""Breathing and the air in the gaps: what a leak assumes."""

from __future__ import annotations

from dataclasses import dataclass

from ..settings import quantity


@dataclass(frozen=True)
class LeakSettings:
    """Breathing and the air in the gaps."""

    flow_l_min: float = quantity(
        30.0,
        "L/min",
        1.0,
        300.0,
        "Breathing flow at which the leak is taken: 30 at light work, 85 to 95 at hard work.",
    )
    entrance_loss: float = quantity(
        1.5,
        "1",
        0.0,
        5.0,
        "Loss of the air entering and leaving a gap, in velocity heads: 0.5 sharp entrance + 1.0 exit "
        "(handbook).",
    )
    skin_relief_mm: float = quantity(
        0.02,
        "mm",
        0.0,
        0.3,
        "Opening that stays where skin and band touch, from the lines of the skin and the layers of the "
        "print, once "
        "pressed; assumption, no source. It keeps a predicted fit factor finite.",
    )

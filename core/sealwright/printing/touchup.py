"""What the maker must look after by hand, with places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .printer import PrinterSettings
from .supports import Unsupported

_SAME_PLACE_MM = 8.0
_SAME_LAYERS = 10


@dataclass(frozen=True)
class TouchUp:
    """One thing to do by hand.

    Attributes
    ----------
    what : one sentence.
    kind : "support", "bridge", "ledge", "flare".
    layer : number of the first layer concerned.
    point_mm : place in the part's own frame.
    """

    what: str
    kind: str
    layer: int
    point_mm: tuple[float, float, float]


def touch_ups(
    found: Sequence[Unsupported],
    printer: PrinterSettings,
    from_bed: Floats,
    bed_mm2: float,
    bed_point: tuple[float, float, float],
) -> list[TouchUp]:
    """The list for one part, from the bed up; neighbouring places of one kind are one entry.

    Parameters
    ----------
    found : unsupported regions in bed coordinates.
    from_bed : (4, 4) from bed coordinates to the part's own frame.
    bed_mm2 : area of the first layer.
    bed_point : a point of the first layer on the bed.
    """
    todo: list[TouchUp] = []
    if bed_mm2 > 0 and printer.flare_mm > 0:
        text = f"Pare the edge of the first layer: it flares by up to {printer.flare_mm:g} mm on each side."
        todo.append(TouchUp(text, "flare", 1, _moved(bed_point, from_bed)))
    for group in _grouped([u for u in found if not u.is_clean(printer)]):
        worst = max(group, key=lambda u: (u.needs_support(printer), u.span_mm, u.area_mm2))
        kind = "support" if worst.needs_support(printer) else worst.kind
        if kind == "ledge" and worst.span_mm <= 0.75 * printer.ledge_mm:
            continue  # a line still half on the layer below: nothing to see
        todo.append(TouchUp(_words(worst, kind), kind, group[0].layer, _moved(worst.point_mm, from_bed)))
    return todo


def _words(worst: Unsupported, kind: str) -> str:
    if worst.kind == "island":
        return f"Starts in the air at layer {worst.layer} ({worst.area_mm2:.2f} mm2): needs a support."
    if worst.kind == "bridge":
        end = "needs a support" if kind == "support" else "expect sagging strands, trim them"
        return f"Bridge of {worst.span_mm:.1f} mm at layer {worst.layer}: {end}."
    end = "needs a support" if kind == "support" else "droops a little, scrape it smooth"
    return f"Ledge of {worst.span_mm:.2f} mm over the layer below at layer {worst.layer}: {end}."


def _grouped(found: Sequence[Unsupported]) -> list[list[Unsupported]]:
    """Regions of one kind that lie close to each other, in order of their first layer."""
    groups: list[list[Unsupported]] = []
    for one in sorted(found, key=lambda u: (u.layer, u.point_mm)):
        for group in groups:
            last = group[-1]
            away = np.linalg.norm(np.subtract(one.point_mm, last.point_mm)[:2])
            if last.kind == one.kind and one.layer - last.layer <= _SAME_LAYERS and away <= _SAME_PLACE_MM:
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def _moved(point: Sequence[float], transform: Floats) -> tuple[float, float, float]:
    x, y, z = transform[:3, :3] @ np.asarray(point) + transform[:3, 3]
    return (float(x), float(y), float(z))

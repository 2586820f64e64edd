"""What the maker must look after by hand, with places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .printer import PrinterSettings
from .supports import Unsupported

_SAME_PLACE_MM = 10.0
_SAME_LAYERS = 10
_VISIBLE_SHARE = 0.75  # of the ledge limit: less leaves the outer line well over half on the layer below


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
    wanted = [u for u in found if not u.is_clean(printer)]
    for group in _grouped([u for u in wanted if u.needs_support(printer)]):
        todo.append(_entry(group, "support", from_bed))
    rest = [u for u in wanted if not u.needs_support(printer)]
    for group in _grouped([u for u in rest if u.kind == "bridge"]):
        todo.append(_entry(group, "bridge", from_bed))
    # Ledges that hold droop along whole rims: one entry for a band of layers.
    visible = [u for u in rest if u.kind == "ledge" and u.span_mm > _VISIBLE_SHARE * printer.ledge_mm]
    for group in _grouped(visible, np.inf):
        todo.append(_entry(group, "ledge", from_bed))
    return sorted(todo, key=lambda t: (t.layer, t.kind, t.point_mm))


def _entry(group: Sequence[Unsupported], kind: str, from_bed: Floats) -> TouchUp:
    """One entry for neighbouring regions, at the place of the worst."""
    worst = max(group, key=lambda u: (u.kind == "island", u.span_mm, u.area_mm2))
    layers = sorted({u.layer for u in group})
    where = f"layer {layers[0]}" if len(layers) == 1 else f"layers {layers[0]} to {layers[-1]}"
    return TouchUp(_words(worst, kind, where), kind, layers[0], _moved(worst.point_mm, from_bed))


def _words(worst: Unsupported, kind: str, where: str) -> str:
    if worst.kind == "island":
        return f"Starts in the air at layer {worst.layer} ({worst.area_mm2:.2f} mm2): needs a support."
    if worst.kind == "bridge":
        end = "needs a support" if kind == "support" else "expect sagging strands, trim them"
        return f"Bridge of {worst.span_mm:.1f} mm, {where}: {end}."
    end = "needs a support" if kind == "support" else "droops a little, scrape it smooth"
    return f"Ledge of up to {worst.span_mm:.2f} mm over the layer below, {where}: {end}."


def _grouped(found: Sequence[Unsupported], near_mm: float = _SAME_PLACE_MM) -> list[list[Unsupported]]:
    """Regions that lie close to each other, in order of their first layer."""
    groups: list[list[Unsupported]] = []
    for one in sorted(found, key=lambda u: (u.layer, u.point_mm)):
        for group in groups:
            late = [u for u in group if one.layer - u.layer <= _SAME_LAYERS]
            if any(math.dist(one.point_mm[:2], u.point_mm[:2]) <= near_mm for u in late):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def _moved(point: Sequence[float], transform: Floats) -> tuple[float, float, float]:
    x, y, z = transform[:3, :3] @ np.asarray(point) + transform[:3, 3]
    return (float(x), float(y), float(z))

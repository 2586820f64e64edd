"""The thinnest wall in the slices, against the nozzle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from .printer import PrinterSettings
from .slices import Layer

if TYPE_CHECKING:
    from manifold3d import CrossSection

_LASTS_MM = 1.0  # a narrow stretch that ends within this height is a rim or tip, not a wall
_STEP_MM = 0.03
_Box: TypeAlias = tuple[float, float, float, float]  # least x and y, most x and y
_LEAN_MM = 0.5  # how far a leaning wall may move from layer to layer and still be the same wall


@dataclass(frozen=True)
class ThinWall:
    """The thinnest wall of the slices.

    Attributes
    ----------
    width_mm : its width, to about 0.03 mm; when ``at_least``, a lower bound.
    at_least : no wall thinner than ``width_mm`` was found.
    layer : number of a layer of it; 0 when ``at_least``.
    point_mm : where, in bed coordinates.
    """

    width_mm: float
    at_least: bool
    layer: int
    point_mm: tuple[float, float, float]


def thinnest_wall(layers: Sequence[Layer], printer: PrinterSettings) -> ThinWall:
    """The thinnest wall up to four nozzle widths, measured in the plane of the layers.

    A wall is thinner than a width when a square-ended brush of that width cannot paint a stretch longer
    than about twice the width, over at least a millimetre of height.
    """
    low, thin = 0.0, 4.0 * printer.nozzle_mm
    lost, place = _thin_stretch(layers, thin)
    if place is None:
        return ThinWall(thin, True, 0, (0.0, 0.0, 0.0))
    suspects: Sequence[Layer] = lost
    while thin - low > _STEP_MM:
        middle = 0.5 * (low + thin)
        lost, found = _thin_stretch(suspects, middle)
        if found is None:
            low = middle
        else:
            suspects, thin, place = lost, middle, found
    layer, x, y = place
    return ThinWall(0.5 * (low + thin), False, layer.number, (x, y, 0.5 * (layer.bottom_mm + layer.top_mm)))


def _thin_stretch(
    layers: Sequence[Layer], width_mm: float
) -> tuple[list[Layer], tuple[Layer, float, float] | None]:
    """The layers with stretches narrower than a width, and a place where such a stretch lasts."""
    import manifold3d

    narrow: list[Layer] = []
    place = None
    before: list[tuple[CrossSection, _Box, float]] = []  # stretches below with the height they have lasted
    last = -1
    for layer in layers:
        parts = _lost(layer.section, width_mm)
        if parts:
            narrow.append(layer)
        if layer.number != last + 1:
            before = []
        last, now = layer.number, []
        for part in parts:
            near = part.offset(_LEAN_MM, manifold3d.JoinType.Square)
            box = near.bounds()
            # Most boxes round two stretches have nothing in common, which is quicker to tell.
            under = (h for other, its, h in before if _meet(box, its) and not (near ^ other).is_empty())
            lasted = max(under, default=0.0) + layer.top_mm - layer.bottom_mm
            now.append((part, part.bounds(), lasted))
            if lasted >= _LASTS_MM and place is None:
                x, y = np.asarray(part.to_polygons()[0])[0]
                place = (layer, float(x), float(y))
        before = now
    return narrow, place


def _meet(one: _Box, other: _Box) -> bool:
    """Whether two boxes have a part in common."""
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _lost(section: CrossSection, width_mm: float) -> list[CrossSection]:
    """The stretches of a region narrower than a width."""
    import manifold3d

    square = manifold3d.JoinType.Miter
    opened = section.offset(-0.5 * width_mm, square, 4.0).offset(0.5 * width_mm + 1e-3, square, 4.0)
    lost, least = section - opened, 2.0 * width_mm**2
    # All slivers together are mostly less than one stretch: then there is none to look for.
    return [part for part in lost.decompose() if part.area() > least] if lost.area() > least else []

"""A part in layers: the region each layer fills, as the nozzle will see it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ..errors import DoesNotFit, Where
from ..mesh import Floats
from ..solids.boolean import Solid

if TYPE_CHECKING:
    from manifold3d import CrossSection

_MOST_LAYERS = 20_000
_SMOOTHING_MM = 0.005  # outlines are thinned by this: far under what a nozzle can do


@dataclass(frozen=True, eq=False)
class Layer:
    """One layer.

    Attributes
    ----------
    number : counted from 1 at the bed.
    bottom_mm, top_mm : heights above the bed.
    section : region at middle height, a manifold3d CrossSection.
    area_mm2 : its area.
    volume_mm3 : volume of the part between bottom and top.
    """

    number: int
    bottom_mm: float
    top_mm: float
    section: CrossSection
    area_mm2: float
    volume_mm3: float


def on_bed(solid: Solid, orientation: Floats) -> tuple[Solid, Floats]:
    """A solid turned by a 4x4 and set down on z = 0 with its middle over the origin.

    Returns
    -------
    solid : the placed solid.
    placement : (4, 4) from the solid's own frame to the bed.
    """
    placement = np.array(orientation, dtype=np.float64)
    placement[:3, 3] = 0.0
    x0, y0, z0, x1, y1, _ = solid.moved(placement).native.bounding_box()
    placement[:3, 3] = (-0.5 * (x0 + x1), -0.5 * (y0 + y1), -z0)
    return solid.moved(placement), placement


def slices_of(solid: Solid, layer_mm: float, smoothing_mm: float = _SMOOTHING_MM) -> list[Layer]:
    """The layers of a solid that stands on z = 0.

    Parameters
    ----------
    layer_mm : layer height; the last layer may be lower.
    smoothing_mm : outlines may be thinned by this much; areas are those of the full outlines.

    Raises
    ------
    DoesNotFit : so many layers that the part cannot be in millimetres.
    """
    height = float(solid.native.bounding_box()[5])
    count = max(int(np.ceil(height / layer_mm - 1e-6)), 1)
    if count > _MOST_LAYERS:
        raise DoesNotFit(
            f"The {solid.role} is {height:.0f} mm high: {count} layers of {layer_mm:g} mm.",
            Where(solid.role),
            "Check the scale of the part and the layer height.",
        )
    flats = _flat_heights(solid)
    layers = []
    for number in range(count):
        bottom, top = number * layer_mm, min((number + 1) * layer_mm, height)
        raw = solid.native.slice(0.5 * (bottom + top))
        area = float(raw.area())
        inside = flats[(flats > bottom) & (flats < top)]
        volume = (
            area * (top - bottom) if not len(inside) else _between(solid, [bottom, *inside.tolist(), top])
        )
        layers.append(Layer(number + 1, bottom, top, raw.simplify(smoothing_mm), area, volume))
    return layers


def _flat_heights(solid: Solid) -> Floats:
    """Heights of level faces: there the section jumps, and the middle of a layer no longer speaks for it."""
    mesh = solid.mesh
    level = np.abs(mesh.face_normals[:, 2]) > 1.0 - 1e-9
    return np.unique(np.round(mesh.vertices[mesh.faces[level, 0], 2], 6))


def _between(solid: Solid, heights: list[float]) -> float:
    """Volume between the first and last height, from the section at the middle of each gap."""
    gaps = [(low, high) for low, high in pairwise(heights) if high - low > 1e-5]
    return sum(float(solid.native.slice(0.5 * (low + high)).area()) * (high - low) for low, high in gaps)


def outline_edges(section: CrossSection) -> Floats:
    """Edges (k, 2, 2) of all outlines of a region, the region on their left."""
    rings = [np.asarray(ring, dtype=np.float64) for ring in section.to_polygons()]
    if not rings:
        return np.zeros((0, 2, 2))
    return np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])

"""Surfaces at a distance from the skin: the skin grown or shrunk by a ball, as images of radii.

Growing by a ball rounds concave creases exactly as a true distance does, where a plain offset along
normals folds into itself.
"""

from __future__ import annotations

import numpy as np

from ..mesh import Floats
from .chart import RadialChart
from .denoise import plugged


def grown_by_ball(chart: RadialChart, radii: Floats, distance_mm: float, sharp: bool = True) -> Floats:
    """Radii (h, w) of the surface at ``distance_mm`` outside the skin (inside when negative).

    Parameters
    ----------
    chart : the chart of the image; every pixel's ball is tried on its neighbours.
    radii : (h, w) mm, NaN where unknown; unknown pixels continue the nearest skin.
    distance_mm : ball radius; the sign says outwards or inwards.
    sharp : also interpolate between pixels, so that flat skin is offset to within 0.1 % of the pixel size.

    A ray meets the ball of radius c round a skin point x furthest out at x.d + sqrt(c^2 - |x|^2 + (x.d)^2).
    """
    skin = plugged(radii, np.isfinite(radii))
    size = abs(distance_mm)
    if size == 0.0:
        return skin
    outward = distance_mm > 0
    nearest = float(np.min(skin))
    reach = int(np.ceil(np.arcsin(min(size / nearest, 1.0)) / chart.pitch_rad)) + 1
    direction = chart.directions
    best = np.full_like(skin, -np.inf if outward else np.inf)
    for rows in range(-reach, reach + 1):
        for columns in range(-reach, reach + 1):
            if np.hypot(rows, columns) > reach + 0.5:
                continue
            target, source = _overlap(skin.shape, rows, columns)
            cosine = np.einsum("ijk,ijk->ij", direction[target], direction[source])
            radius = skin[source]
            along = radius * cosine
            inside = size * size - radius * radius + along * along
            root = np.sqrt(np.maximum(inside, 0.0))
            if outward:
                value = np.where(inside >= 0, along + root, -np.inf)
                np.maximum(best[target], value, out=best[target])
            else:
                value = np.where(inside >= 0, along - root, np.inf)
                np.minimum(best[target], value, out=best[target])
    return best if not sharp else _between_pixels(best, skin, chart.pitch_rad, size, outward)


def _between_pixels(best: Floats, skin: Floats, pitch: float, size: float, outward: bool) -> Floats:
    """Add what balls standing between the pixels would reach: s^2 / (8 c) for pixels s apart, at most."""
    spacing = skin * pitch
    rise = np.minimum(spacing**2 / (8.0 * size) / 2.0, 0.25 * spacing)
    return best + rise if outward else best - rise


def _overlap(
    shape: tuple[int, int], rows: int, columns: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Slices of the target and of the source image shifted against it by (rows, columns)."""

    def pair(length: int, shift: int) -> tuple[slice, slice]:
        return slice(max(-shift, 0), length - max(shift, 0)), slice(max(shift, 0), length - max(-shift, 0))

    (target_row, source_row), (target_column, source_column) = pair(shape[0], rows), pair(shape[1], columns)
    return (target_row, target_column), (source_row, source_column)

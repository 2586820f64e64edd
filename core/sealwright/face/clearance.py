"""Surfaces at a distance from the skin: the skin grown or shrunk by a ball, as images of radii.

Growing by a ball rounds concave creases exactly as a true distance does, where a plain offset along
normals folds into itself.
"""

from __future__ import annotations

import numpy as np

from ..mesh import Floats, Ints
from .chart import RadialChart
from .denoise import nearest_filled


def grown_by_balls(chart: RadialChart, radii: Floats, sizes_mm: Floats, step: int) -> Floats:
    """Radii of the surface outside of balls of many sizes round the skin, at every ``step``-th pixel.

    Parameters
    ----------
    chart : the chart of the image.
    radii : (h, w) mm, NaN where unknown; unknown pixels continue the nearest skin.
    sizes_mm : (h, w) radius of each pixel's ball; 0 leaves the skin there.
    step : the result holds the middle pixel and every ``step``-th from it, as `FaceSurface.thinned` does.
    """
    skin = nearest_filled(radii, np.isfinite(radii))
    first = chart.half % step
    grown = skin[first::step, first::step].copy()
    rows, columns = np.nonzero(sizes_mm > 0)
    if len(rows) == 0:
        return grown
    share = min(float(sizes_mm.max() / skin[rows, columns].min()), 1.0)
    reach = int(np.ceil(np.arcsin(share) / chart.pitch_rad)) + 1
    picks = [
        np.arange(max(i.min() - reach, 0), min(i.max() + reach + 1, chart.side)) for i in (rows, columns)
    ]
    wanted = np.ix_(*[pick[pick % step == first] for pick in picks])
    rise = np.where(sizes_mm > 0, _between_pixels(skin, chart.pitch_rad, np.maximum(sizes_mm, 1e-9)), 0.0)
    touched = _touched_from(chart.directions, skin, sizes_mm, wanted, reach) + rise[wanted]
    grown[np.ix_(*[(axis.ravel() - first) // step for axis in wanted])] = np.maximum(touched, skin[wanted])
    return grown


def _touched_from(
    directions: Floats, skin: Floats, sizes: Floats, wanted: tuple[Ints, ...], reach: int
) -> Floats:
    """Furthest radius at which the rays of wanted pixels meet a ball within reach."""
    edge = ((reach, reach), (reach, reach))
    square = np.pad(sizes * sizes - skin * skin, edge, constant_values=-np.inf)
    centres = np.pad(skin[..., None] * directions, (*edge, (0, 0)))
    ray, (rows, columns) = directions[wanted], wanted
    best = np.full(ray.shape[:2], -np.inf)
    for down in range(2 * reach + 1):
        for across in range(2 * reach + 1):
            if np.hypot(down - reach, across - reach) > reach + 0.5:
                continue
            source = (rows + down, columns + across)
            along = np.einsum("ijk,ijk->ij", ray, centres[source])
            inside = square[source] + along * along
            value = np.where(inside >= 0, along + np.sqrt(np.maximum(inside, 0.0)), -np.inf)
            np.maximum(best, value, out=best)
    return best


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
    skin = nearest_filled(radii, np.isfinite(radii))
    size = abs(distance_mm)
    if size == 0.0:
        return skin
    outward = distance_mm > 0
    best = _touched(chart, skin, size, outward)
    if not sharp:
        return best
    rise = _between_pixels(skin, chart.pitch_rad, size)
    return best + rise if outward else best - rise


def _touched(chart: RadialChart, skin: Floats, size: float, outward: bool) -> Floats:
    """Furthest (or nearest) radius (h, w) at which each pixel's ray meets a ball round some pixel's skin."""
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
    return best


def _between_pixels(skin: Floats, pitch: float, size: float | Floats) -> Floats:
    """What balls standing between the pixels would reach further: s^2 / (8 c) for pixels s apart, at most."""
    spacing = skin * pitch
    return np.asarray(np.minimum(spacing**2 / (8.0 * np.asarray(size)) / 2.0, 0.25 * spacing))


def _overlap(
    shape: tuple[int, int], rows: int, columns: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Slices of the target and of the source image shifted against it by (rows, columns)."""

    def pair(length: int, shift: int) -> tuple[slice, slice]:
        """Where an image and its shifted copy overlap, along one axis."""
        return slice(max(-shift, 0), length - max(shift, 0)), slice(max(shift, 0), length - max(-shift, 0))

    (target_row, source_row), (target_column, source_column) = pair(shape[0], rows), pair(shape[1], columns)
    return (target_row, target_column), (source_row, source_column)

"""Surfaces at a distance from the skin: the skin grown or shrunk by a ball, as images of radii.

Growing by a ball rounds concave creases exactly as a true distance does, where a plain offset along
normals folds into itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats
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
    wanted = (
        _around(rows, reach, (first, step), chart.side),
        _around(columns, reach, (first, step), chart.side),
    )
    rise = np.where(sizes_mm > 0, _between_pixels(skin, chart.pitch_rad, np.maximum(sizes_mm, 1e-9)), 0.0)
    touched = _touched(chart.directions, skin, sizes_mm, wanted, reach) + rise[wanted]
    grown[tuple(slice(i.start // step, (i.stop - 1) // step + 1) for i in wanted)] = np.maximum(
        touched, skin[wanted]
    )
    return grown


def _around(pixels: NDArray[np.intp], reach: int, grid: tuple[int, int], side: int) -> slice:
    """The pixels of a grid (its first, and its step) within reach of some pixels of a row of ``side``."""
    first, step = grid
    low, high = max(int(pixels.min()) - reach, 0), min(int(pixels.max()) + reach, side - 1)
    start = low + (first - low) % step
    return slice(start, start + max((high - start) // step, 0) * step + 1, step)


def grown_by_ball(chart: RadialChart, radii: Floats, distance_mm: float, sharp: bool = True) -> Floats:
    """Radii (h, w) of the surface at ``distance_mm`` outside the skin (inside when negative).

    Parameters
    ----------
    chart : the chart of the image; every pixel's ball is tried on its neighbours.
    radii : (h, w) mm, NaN where unknown; unknown pixels continue the nearest skin.
    distance_mm : ball radius; the sign says outwards or inwards.
    sharp : also interpolate between pixels, so that flat skin is offset to within 0.1 % of the pixel size.
    """
    skin = nearest_filled(radii, np.isfinite(radii))
    size = abs(distance_mm)
    if size == 0.0:
        return skin
    outward = distance_mm > 0
    reach = int(np.ceil(np.arcsin(min(size / float(skin.min()), 1.0)) / chart.pitch_rad)) + 1
    whole = slice(0, skin.shape[0], 1), slice(0, skin.shape[1], 1)
    best = _touched(chart.directions, skin, np.full_like(skin, size), whole, reach, outward)
    if not sharp:
        return best
    rise = _between_pixels(skin, chart.pitch_rad, size)
    return best + rise if outward else best - rise


def _touched(
    directions: Floats,
    skin: Floats,
    sizes: Floats,
    wanted: tuple[slice, slice],
    reach: int,
    outward: bool = True,
) -> Floats:
    """Furthest (or nearest) radius at which the rays of wanted pixels meet a ball within reach.

    A ray meets the ball of radius c round a skin point x at x.d +- sqrt(c^2 - |x|^2 + (x.d)^2).
    """
    square = np.pad(sizes * sizes - skin * skin, reach, constant_values=-np.inf)
    centres = np.pad(
        np.moveaxis(skin[..., None] * directions, -1, 0), ((0, 0), (reach, reach), (reach, reach))
    )
    rx, ry, rz = np.ascontiguousarray(np.moveaxis(directions[wanted], -1, 0))
    best = np.full(rx.shape, -np.inf if outward else np.inf)
    along, root = np.empty_like(best), np.empty_like(best)
    further, nearer = (np.add, np.fmax) if outward else (np.subtract, np.fmin)
    with np.errstate(invalid="ignore"):  # the root is no number where a ray passes the ball
        for down, across in _disc(reach):
            source = tuple(
                slice(one.start + shift, one.stop + shift, one.step)
                for one, shift in zip(wanted, (down, across), strict=True)
            )
            x, y, z = (centre[source] for centre in centres)
            np.multiply(rx, x, out=along)
            along += np.multiply(ry, y, out=root)
            along += np.multiply(rz, z, out=root)
            np.multiply(along, along, out=root)
            root += square[source]
            np.sqrt(root, out=root)
            nearer(best, further(along, root, out=root), out=best)
    return best


def _disc(reach: int) -> list[tuple[int, int]]:
    """Steps, from the corner of a square, to the pixels within reach of its middle."""
    steps = np.arange(-reach, reach + 1)
    near = np.hypot(steps[:, None], steps) <= reach + 0.5
    return [(int(row), int(column)) for row, column in np.argwhere(near)]


def _between_pixels(skin: Floats, pitch: float, size: float | Floats) -> Floats:
    """What balls standing between the pixels would reach further: s^2 / (8 c) for pixels s apart, at most."""
    spacing = skin * pitch
    return np.asarray(np.minimum(spacing**2 / (8.0 * np.asarray(size)) / 2.0, 0.25 * spacing))

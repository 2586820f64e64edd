"""A smooth image over the chart through values at places on the skin."""

from __future__ import annotations

import numpy as np
from scipy import ndimage
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

from ..mesh import Floats
from .chart import RadialChart

_EVEN_PX = 1.5  # smoothing: no creases between the triangles of the places


def field_through(chart: RadialChart, pq: Floats, values: Floats) -> Floats:
    """An image (h, w) through values (n,) at chart positions (n, 2), even outwards beyond the outermost.

    Straight between places (Delaunay triangles), then smoothed over about a millimetre.
    """
    pixel = chart.pixels_of(pq)
    asked = np.stack(np.meshgrid(*[np.arange(float(chart.side))] * 2, indexing="ij"), axis=-1)
    inside = LinearNDInterpolator(pixel, values)(asked)
    outside = NearestNDInterpolator(pixel, values)(asked)
    return np.asarray(ndimage.gaussian_filter(np.where(np.isfinite(inside), inside, outside), _EVEN_PX))

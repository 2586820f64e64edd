"""The contact band unrolled as small heat maps: what the 3D view shows, for paper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...render.colormap import MAPS, colours_of
from ...render.pictures import png_bytes
from ..model3d import Map, Model3D
from .sentences import sentence
from .text import escaped, image_source, rounded


def bands_html(model: Model3D | None) -> str:
    """Every map of the model as a strip: along the seal line to the right, outer edge on top."""
    if model is None or not model.maps:
        return ""
    words = sentence("bands.about")
    return f'<h3>Maps unrolled</h3>{words}<div class="bands">{"".join(_band(m) for m in model.maps)}</div>'


def _band(map_: Map) -> str:
    source = image_source(png_bytes(_pixels(map_)))
    stops = ",".join(f"rgb({r:.0f},{g:.0f},{b:.0f})" for r, g, b in 255.0 * MAPS["viridis"])
    known = map_.values[np.isfinite(map_.values)]
    spread = (
        f"lowest {rounded(float(known.min()))}, highest {rounded(float(known.max()))} {escaped(map_.unit)}"
    )
    return (
        f"<figure><figcaption><b>{escaped(map_.title)}</b> [{escaped(map_.unit)}], {spread}</figcaption>"
        f'<img class="band" src="{source}" alt="{escaped(map_.title)}, unrolled">'
        f'<div class="scale"><span>{rounded(map_.low)}</span>'
        f'<span class="bar" style="background:linear-gradient(90deg,{stops})"></span>'
        f"<span>{rounded(map_.high)} {escaped(map_.unit)}</span></div>"
        f"<small>{escaped(map_.note)}</small></figure>"
    )


def _pixels(map_: Map) -> NDArray[np.uint8]:
    """One pixel per value (k, n, 3): rows across the band, columns along the seal line."""
    values = map_.values.T
    colours = colours_of(np.nan_to_num(values), map_.low, map_.high)
    colours[~np.isfinite(values)] = 0.6
    return np.asarray(colours * 255.0 + 0.5).astype(np.uint8)

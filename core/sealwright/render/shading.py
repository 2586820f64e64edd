"""Colours of what is hit, lit by a key light, a fill, a rim and the sky."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats
from .colormap import colours_of
from .light import KEY, across
from .scene import Legend, Scene
from .tracing import Hits, Singles

_FILL = np.array([0.85, 0.10, 0.52])
_RIM = np.array([0.25, 0.75, -0.62])
_HATCH = (9.0, 1.6)  # pixels from line to line, and width of a line
_STEPS = 4096  # of a colour map; more than a screen shows


def to_linear(colour: NDArray[np.floating]) -> Floats:
    """Linear light from sRGB 0..1 (IEC 61966-2-1)."""
    c = np.asarray(colour, dtype=np.float64)
    light: Floats = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return light


def to_srgb(light: NDArray[np.floating]) -> Floats:
    """Screen numbers 0..1 (IEC 61966-2-1) from linear light, clipped."""
    c = np.clip(light, 0.0, 1.0)
    screen: Floats = np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055)
    return screen


def shaded(
    scene: Scene, hits: Hits, direction: Singles, seen: Singles, axes: Floats, pixel_mm: float
) -> Singles:
    """Linear light (3, k) of hits.

    Parameters
    ----------
    hits : none of them a miss.
    direction : (k, 3) of the rays.
    seen : (k, 2) shares of sky and key light.
    axes : (3, 3) camera axes.
    pixel_mm : size of a pixel at the target, for the hatching of cut faces.
    """
    base = _base_colours(scene, hits, pixel_mm)
    normal, (sx, sy, sz), (sky_seen, key_seen) = hits.normal.T, -direction.T, seen.T
    front = normal[0] * sx + normal[1] * sy + normal[2] * sz
    up = _along(normal, axes[1])
    sky = sky_seen ** np.float32(1.7) * (0.44 + 0.14 * up)
    light = np.stack([sky * np.float32(tint) for tint in (0.95, 0.99, 1.07)])
    shine = 0.05 * sky_seen * (1.0 - np.clip(front, 0.0, 1.0)) ** 4
    for place, colour, strength, shadow in (
        (KEY, (1.06, 1.0, 0.93), 0.70, key_seen),
        (_FILL, (0.92, 0.98, 1.08), 0.16, sky_seen),
        (_RIM, (1.0, 1.0, 1.0), 0.22, sky_seen),
    ):
        way = place / np.linalg.norm(place) @ axes
        toward = _along(normal, way)
        facing = np.clip(toward, 0.0, None) * (np.float32(strength) * shadow)
        for channel, tint in zip(light, colour, strict=True):
            channel += facing * np.float32(tint)
        # Cosine to the direction half way between eye and light, without laying it out.
        half = (toward + front) / np.sqrt(2.0 + 2.0 * np.maximum(_along((sx, sy, sz), way), -0.999))
        shine += 0.16 * facing * _to_the_40th(np.clip(half, 0.0, None))
    light = base * light + shine
    flat = hits.kind == 2
    light[:, flat] = base[:, flat] * np.float32(0.92)  # a cut face is a drawing, not a lit surface
    return np.asarray(light, dtype=np.float32)


def _along(vectors: Singles | tuple[Singles, Singles, Singles], axis: Floats) -> Singles:
    """Scalar products of vectors (3, k) with one."""
    (x, y, z), (a, b, c) = vectors, axis.astype(np.float32)
    return np.asarray(x * a + y * b + z * c)


def _to_the_40th(x: Singles) -> Singles:
    eighth = ((x * x) ** 2) ** 2
    return np.asarray(eighth * (eighth * eighth) ** 2)


def _base_colours(scene: Scene, hits: Hits, pixel_mm: float) -> Singles:
    """Linear surface colours (3, k) from items, values, backs and hatching."""
    table = np.array([to_linear(np.array(s.colour)) for s in scene.shown], dtype=np.float32)
    base = table.T[:, hits.item]
    if scene.legend is not None:
        valued = np.flatnonzero(np.isfinite(hits.value) & (hits.kind != 2))
        base[:, valued] = _mapped(hits.value[valued], scene.legend)
    back = hits.kind == 1
    base[:, back] = np.float32(0.62) * base[:, back] + np.float32(0.05)
    if scene.cut is not None:
        flat = np.flatnonzero(hits.kind == 2)
        plane = np.array(scene.cut.normal) / np.linalg.norm(scene.cut.normal)
        one, other = across(plane[:, None].astype(np.float32))
        place = (hits.point[flat] @ (other - one)[:, 0]) / (np.sqrt(2.0) * pixel_mm)
        off = np.abs((place - 0.5 * _HATCH[1]) % _HATCH[0] - 0.5 * _HATCH[0])
        # How much of the pixel the line covers, so that hatching needs no more rays to have smooth edges.
        bare = 1.0 - np.clip(off - 0.5 * (_HATCH[0] - _HATCH[1]) + 0.5, 0.0, 1.0).astype(np.float32)
        base[:, flat] = (0.40 + 0.20 * bare) * base[:, flat] + 0.34 * bare
    return np.asarray(base)


def _mapped(values: Singles, legend: Legend) -> Singles:
    """Linear light (3, k) of values by the legend's colours."""
    table = to_linear(
        colours_of(np.linspace(legend.low, legend.high, _STEPS), legend.low, legend.high, legend.colours)
    )
    share = np.clip((values - legend.low) / (legend.high - legend.low), 0.0, 1.0)
    return np.asarray(table.T.astype(np.float32)[:, (share * (_STEPS - 1) + 0.5).astype(np.int32)])

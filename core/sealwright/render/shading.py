"""Light: a soft key light with shadow, a fill, a rim, and sky light held back in hollows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats
from .colormap import colours_of
from .scene import Scene
from .tracing import Hits, Singles, Tracer

# Directions in the camera's axes (right, up, back), so that every view is lit alike.
_KEY = np.array([-0.50, 0.62, 0.60])
_FILL = np.array([0.85, 0.10, 0.52])
_RIM = np.array([0.25, 0.75, -0.62])
_KEY_SPREAD = 0.16  # tangent of the half angle of the key light: gives the shadow a soft edge
_HOLLOW_SHARE = 0.16  # hollows narrower than this share of the scene are darkened
_SKY_RAYS, _KEY_RAYS = 6, 4  # of each pixel
_TILE = 4  # pixels a side over which the light samples are shared out


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


def light_reaching(tracer: Tracer, hits: Hits, axes: Floats, width: int) -> Singles:
    """Share of sky light and of key light that reaches each pixel.

    Every pixel casts a few rays; their directions differ over a tile of pixels, and `smoothed` then shares
    them out, so that each pixel sees the light of a whole tile of rays.

    Parameters
    ----------
    hits : first hits of all pixels, row by row.
    axes : (3, 3) camera axes.
    width : pixels in a row.

    Returns
    -------
    (k, 2) from 0 to 1: sky, key.
    """
    seen = np.ones((len(hits.face), 2), dtype=np.float32)
    rows = np.flatnonzero(hits.face >= 0)
    cell = (rows // width % _TILE) * _TILE + rows % width % _TILE
    normal = hits.normal[rows]
    origin = hits.point[rows] + np.float32(2e-4 * tracer.size_mm) * normal
    tangent, third = _frames(normal)
    sky, key = np.zeros(len(rows), np.float32), np.zeros(len(rows), np.float32)
    for index in range(_SKY_RAYS):
        a, b = _spread_numbers(cell * _SKY_RAYS + index, _TILE * _TILE * _SKY_RAYS)
        r, angle = np.sqrt(a)[:, None], (2.0 * np.pi * b)[:, None]
        direction = r * np.cos(angle) * tangent + r * np.sin(angle) * third + np.sqrt(1 - r * r) * normal
        sky += ~tracer.blocked(origin, direction.astype(np.float32), _HOLLOW_SHARE * tracer.size_mm)
    right, up, middle = _key_disc(axes)
    for index in range(_KEY_RAYS):
        a, b = _spread_numbers(cell * _KEY_RAYS + index, _TILE * _TILE * _KEY_RAYS)
        r, angle = (_KEY_SPREAD * np.sqrt(a))[:, None], (2.0 * np.pi * b)[:, None]
        direction = middle + r * np.cos(angle) * right + r * np.sin(angle) * up
        facing = np.flatnonzero(normal @ middle > 0)
        key[facing] += ~tracer.blocked(
            origin[facing], direction[facing].astype(np.float32), 2.0 * tracer.size_mm
        )
    seen[rows, 0], seen[rows, 1] = sky / _SKY_RAYS, key / _KEY_RAYS
    return seen


def smoothed(seen: Singles, hits: Hits, width: int, pixel_mm: float) -> Singles:
    """Light averaged over a tile of pixels of the same surface (k, 2)."""
    shape = (-1, width)
    item = np.pad((hits.item * 4 + hits.kind).reshape(shape), 2, constant_values=-9)
    normal = np.pad(hits.normal.reshape(*shape, 3), ((2, 2), (2, 2), (0, 0)))
    point = np.pad(hits.point.reshape(*shape, 3), ((2, 2), (2, 2), (0, 0)))
    light = np.pad(seen.reshape(*shape, 2), ((2, 2), (2, 2), (0, 0)))
    height = len(item) - 4
    rows, columns = np.nonzero(item[2 : 2 + height, 2 : 2 + width] >= 0)
    rows, columns = rows + 2, columns + 2
    n, p, kind = normal[rows, columns], point[rows, columns], item[rows, columns]
    total, weight = light[rows, columns].copy(), np.ones((len(rows), 1), np.float32)
    for dy in range(-2, 2):
        for dx in range(-2, 2):
            if dx == 0 and dy == 0:
                continue
            r, c = rows + dy, columns + dx
            off = np.abs(np.einsum("ij,ij->i", point[r, c] - p, n))
            near = (
                (item[r, c] == kind) & (np.einsum("ij,ij->i", normal[r, c], n) > 0.8) & (off < 3.0 * pixel_mm)
            )
            w = near.astype(np.float32)[:, None]
            total += w * light[r, c]
            weight += w
    out = seen.copy()
    out[(rows - 2) * width + columns - 2] = total / weight
    return out


def shaded(
    scene: Scene, hits: Hits, direction: Floats, seen: Singles, axes: Floats, pixel_mm: float
) -> Floats:
    """Linear light (k, 3) of hits; rows without a hit are meaningless.

    Parameters
    ----------
    direction : (k, 3) of the rays.
    seen : (k, 2) shares of sky and key light.
    axes : (3, 3) camera axes.
    pixel_mm : size of a pixel at the target, for the hatching of cut faces.
    """
    base = _base_colours(scene, hits, pixel_mm)
    normal, view = hits.normal, -direction
    up = normal @ axes[1].astype(np.float32)
    sky = seen[:, 0] ** 1.7 * (0.44 + 0.14 * up)
    diffuse, shine = sky[:, None] * np.array([0.95, 0.99, 1.07]), np.zeros(len(normal))
    for place, colour, strength, shadow in (
        (_KEY, (1.06, 1.0, 0.93), 0.70, seen[:, 1]),
        (_FILL, (0.92, 0.98, 1.08), 0.16, seen[:, 0]),
        (_RIM, (1.0, 1.0, 1.0), 0.22, seen[:, 0]),
    ):
        light = place / np.linalg.norm(place) @ axes
        facing = np.clip(normal @ light, 0.0, None) * strength * shadow
        diffuse += facing[:, None] * np.array(colour)
        half = light + view
        half /= np.linalg.norm(half, axis=1, keepdims=True)
        shine += 0.16 * facing * np.clip(np.einsum("ij,ij->i", normal, half), 0.0, None) ** 40
    edge = (1.0 - np.clip(np.einsum("ij,ij->i", normal, view), 0.0, 1.0)) ** 4
    light = base * diffuse + (shine + 0.05 * edge * seen[:, 0])[:, None]
    flat = hits.kind == 2
    light[flat] = base[flat] * 0.92  # a cut face is a drawing, not a lit surface
    return np.asarray(light)


def _base_colours(scene: Scene, hits: Hits, pixel_mm: float) -> Floats:
    """Linear surface colours (k, 3) from items, values, backs and hatching."""
    table = np.array([to_linear(np.array(s.colour)) for s in scene.shown])
    base = table[np.maximum(hits.item, 0)]
    if scene.legend is not None:
        valued = np.flatnonzero(np.isfinite(hits.value) & (hits.kind != 2) & (hits.item >= 0))
        legend = scene.legend
        base[valued] = to_linear(colours_of(hits.value[valued], legend.low, legend.high, legend.colours))
    back = hits.kind == 1
    base[back] = 0.62 * base[back] + 0.05
    if scene.cut is not None:
        flat = np.flatnonzero(hits.kind == 2)
        plane = np.array(scene.cut.normal) / np.linalg.norm(scene.cut.normal)
        across, third = _frames(plane[None].astype(np.float32))
        place = (hits.point[flat] @ (across[0] + third[0])) / (np.sqrt(2.0) * pixel_mm)
        line = (place % 9.0) < 1.6
        base[flat] = np.where(line[:, None], 0.40 * base[flat], 0.60 * base[flat] + 0.34)
    return base


def _frames(normal: Singles) -> tuple[Singles, Singles]:
    """Two unit vectors across each normal (k, 3)."""
    helper = np.eye(3, dtype=np.float32)[np.abs(normal).argmin(axis=1)]
    tangent = np.cross(normal, helper)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return tangent, np.cross(normal, tangent)


def _key_disc(axes: Floats) -> tuple[Floats, Floats, Floats]:
    """The key light as a disc seen from the scene: two directions across and its middle, unit vectors."""
    middle = _KEY / np.linalg.norm(_KEY) @ axes
    right = np.cross(axes[1], middle)
    right /= np.linalg.norm(right)
    return right, np.cross(middle, right), middle


def _spread_numbers(index: NDArray[np.int64], count: int) -> tuple[Singles, Singles]:
    """Numbers of a set evenly spread over the unit square: k/count, and its golden-ratio partner.

    Neighbouring pixels take indices far apart, so that a small part of a tile already sees a mixed set.
    """
    k = (index * 37) % count
    return ((k + 0.5) / count).astype(np.float32), (k * 0.61803398875 % 1.0).astype(np.float32)

"""How much light reaches what a picture shows: sky light held back in hollows, a key light with soft shadow.

Rays towards the lights are cast from every second pixel of every second row, and shared out over a tile of
these and to the pixels between them, as far as they lie on the same piece of surface. A pixel that has none
beside it, on a thin rib or an edge, casts rays of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools
from .tracing import Hits, Singles, Tracer

# Direction in the camera's axes (right, up, back), so that every view is lit alike.
KEY = np.array([-0.50, 0.62, 0.60])
_KEY_SPREAD = 0.16  # tangent of the half angle of the key light: gives the shadow a soft edge
_HOLLOW_SHARE = 0.16  # hollows narrower than this share of the scene are darkened
_SKY_RAYS, _KEY_RAYS = 6, 4  # from each place
_TILE = 4  # places a side over which the light samples are shared out
_ALIKE, _OFF_PIXELS = 0.8, 3.0  # cosine between normals, and distance from the plane, of one piece of surface
_NOTHING = -9

Places: TypeAlias = NDArray[np.intp]
Where: TypeAlias = Places | slice


def light_reaching(
    tracer: Tracer, hits: Hits, axes: NDArray[np.float64], width: int, pixel_mm: float
) -> Singles:
    """Share of sky light and of key light that reaches each pixel.

    Parameters
    ----------
    hits : first hits of all pixels, row by row.
    axes : (3, 3) camera axes.
    width : pixels in a row.
    pixel_mm : size of a pixel at the target.

    Returns
    -------
    (k, 2) from 0 to 1: sky, key; 1 where nothing is hit.
    """
    ground, off_mm = _Ground.of(hits, width), _OFF_PIXELS * pixel_mm
    light = np.ones((2, *ground.mark.shape), np.float32)
    site = np.zeros(ground.mark.shape, dtype=np.bool_)
    site[::2, ::2] = ground.mark[::2, ::2] != _NOTHING
    rows, columns = np.nonzero(site)
    light[:, site] = _cast(
        tracer, ground.normal[:, site], ground.point[:, site], axes, _cells(rows, columns, 2)
    )
    light[:, ::2, ::2] = _shared_out(ground.part(slice(None, None, 2), slice(None, None, 2)), light, off_mm)
    lone = _between(ground, light, off_mm)
    rows, columns = np.nonzero(lone)
    light[:, lone] = _cast(
        tracer, ground.normal[:, lone], ground.point[:, lone], axes, _cells(rows, columns, 1)
    )
    light[:, lone] = _around(ground, light, (rows, columns), off_mm)
    return np.asarray(light.reshape(2, -1).T)


@dataclass(frozen=True, eq=False)
class _Ground:
    """What the pixels show: mark of mesh and kind (h, w), normal and point (3, h, w), normal times point."""

    mark: NDArray[np.int32]
    normal: Singles
    point: Singles
    height: Singles

    @classmethod
    def of(cls, hits: Hits, width: int) -> _Ground:
        """The hits of a picture."""
        mark = np.where(hits.item >= 0, hits.item * 4 + hits.kind, _NOTHING).astype(np.int32)
        normal, point = (np.ascontiguousarray(a.T).reshape(3, -1, width) for a in (hits.normal, hits.point))
        return cls(mark.reshape(-1, width), normal, point, _dot(normal, point))

    def part(self, rows: Where, columns: Where) -> _Ground:
        """Some rows and columns."""
        at = rows, columns
        return _Ground(self.mark[at], self.normal[:, *at], self.point[:, *at], self.height[at])

    def alike(self, other: _Ground, off_mm: float) -> Singles:
        """1 where another ground of the same shape shows the same piece of surface, else 0."""
        same: Bools = (self.mark == other.mark) & (_dot(self.normal, other.normal) > _ALIKE)
        same &= np.abs(_dot(self.normal, other.point) - self.height) < off_mm
        return same.astype(np.float32)


def _dot(a: Singles, b: Singles) -> Singles:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def _cells(rows: Places, columns: Places, step: int) -> Places:
    """Number of each place in its tile."""
    return np.asarray(rows // step % _TILE * _TILE + columns // step % _TILE)


def _overlap(shift: int, length: int) -> tuple[slice, slice]:
    """Where places are whose neighbour ``shift`` on is there too, and these neighbours."""
    return slice(max(-shift, 0), length - max(shift, 0)), slice(max(shift, 0), length + min(shift, 0))


def _shared_out(ground: _Ground, light: Singles, off_mm: float) -> Singles:
    """Mean light of a tile of places of the same surface; ``light`` is that of all pixels."""
    here = np.ascontiguousarray(light[:, ::2, ::2])
    whole = ground.part(slice(None), slice(None))
    total, weight = here.copy(), np.ones(here.shape[1:], np.float32)
    for dy, dx in _tile():
        (rows, others), (columns, beside) = (_overlap(dy, here.shape[1]), _overlap(dx, here.shape[2]))
        near = whole.part(rows, columns).alike(whole.part(others, beside), off_mm)
        total[:, rows, columns] += near * here[:, others, beside]
        weight[rows, columns] += near
    return np.asarray(total / weight)


def _tile() -> Iterable[tuple[int, int]]:
    """Steps to the other places of a tile round a place."""
    steps = range(-(_TILE // 2), _TILE // 2)
    return ((dy, dx) for dy in steps for dx in steps if dy or dx)


def _between(ground: _Ground, light: Singles, off_mm: float) -> Bools:
    """Light the pixels between the sites from those beside them, in ``light``; pixels without any."""
    lone = np.zeros(ground.mark.shape, dtype=np.bool_)
    height, width = ground.mark.shape
    for y, x in ((0, 1), (1, 0), (1, 1)):
        at = ground.part(slice(y, None, 2), slice(x, None, 2))
        total, weight = np.zeros((2, *at.mark.shape), np.float32), np.zeros(at.mark.shape, np.float32)
        for dy in range(y + 1):
            for dx in range(x + 1):
                rows = min(at.mark.shape[0], (height + 1) // 2 - dy)
                columns = min(at.mark.shape[1], (width + 1) // 2 - dx)
                sites = slice(2 * dy, 2 * (dy + rows), 2), slice(2 * dx, 2 * (dx + columns), 2)
                near = at.part(slice(rows), slice(columns)).alike(ground.part(*sites), off_mm)
                total[:, :rows, :columns] += near * light[(slice(None), *sites)]
                weight[:rows, :columns] += near
        found = weight > 0
        light[:, y::2, x::2] = np.where(found, total / np.maximum(weight, 1.0), light[:, y::2, x::2])
        lone[y::2, x::2] = ~found & (at.mark != _NOTHING)
    return lone


def _around(ground: _Ground, light: Singles, places: tuple[Places, Places], off_mm: float) -> Singles:
    """Mean light (2, n) of the pixels round some places, as far as they are of the same surface."""
    rows, columns = places
    here = ground.part(rows, columns)
    total, weight = light[:, rows, columns], np.ones(len(rows), np.float32)
    for dy, dx in _tile():
        r = np.clip(rows + dy, 0, ground.mark.shape[0] - 1)
        c = np.clip(columns + dx, 0, ground.mark.shape[1] - 1)
        near = here.alike(ground.part(r, c), off_mm)
        total += near * light[:, r, c]
        weight += near
    return np.asarray(total / weight)


def _cast(
    tracer: Tracer, normal: Singles, point: Singles, axes: NDArray[np.float64], cell: Places
) -> Singles:
    """Shares (2, n) of sky and key light at points with normals (3, n); ``cell`` chooses the directions."""
    origin = np.ascontiguousarray((point + np.float32(2e-4 * tracer.size_mm) * normal).T)
    tangent, third = across(normal)
    sky, key = np.zeros((2, len(cell)), np.float32)
    for index in range(_SKY_RAYS):
        a, b = _spread_numbers(np.arange(_TILE * _TILE) * _SKY_RAYS + index, _TILE * _TILE * _SKY_RAYS)
        x, y, z = np.sqrt(a) * np.cos(2 * np.pi * b), np.sqrt(a) * np.sin(2 * np.pi * b), np.sqrt(1 - a)
        x, y, z = (share.astype(np.float32)[cell] for share in (x, y, z))
        direction = np.ascontiguousarray((x * tangent + y * third + z * normal).T)
        sky += ~tracer.blocked(origin, direction, _HOLLOW_SHARE * tracer.size_mm)
    right, up, middle = _key_disc(axes)
    facing = np.flatnonzero(_dot(normal, middle.astype(np.float32)) > 0)
    origin, cell = origin[facing], cell[facing]
    for index in range(_KEY_RAYS):
        a, b = _spread_numbers(np.arange(_TILE * _TILE) * _KEY_RAYS + index, _TILE * _TILE * _KEY_RAYS)
        r, angle = (_KEY_SPREAD * np.sqrt(a))[:, None], (2.0 * np.pi * b)[:, None]
        way = middle + r * np.cos(angle) * right + r * np.sin(angle) * up
        key[facing] += ~tracer.blocked(origin, way.astype(np.float32)[cell], 2.0 * tracer.size_mm)
    return np.stack([sky / _SKY_RAYS, key / _KEY_RAYS])


def across(normal: Singles) -> tuple[Singles, Singles]:
    """Two unit vectors (3, n) square to each of unit vectors (3, n)."""
    x, y, z = normal
    # Along the axis that lies flattest to the normal, less its share along the normal.
    flattest = np.abs(normal).argmin(axis=0)
    tangent = -normal * normal[flattest, np.arange(normal.shape[1])]
    tangent[flattest, np.arange(normal.shape[1])] += 1.0
    tangent /= np.maximum(np.sqrt(_dot(tangent, tangent)), np.float32(1e-12))
    a, b, c = tangent
    return tangent, np.stack([y * c - z * b, z * a - x * c, x * b - y * a])


def _key_disc(
    axes: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """The key light as a disc seen from the scene: two directions across and its middle, unit vectors."""
    middle = KEY / np.linalg.norm(KEY) @ axes
    right = np.cross(axes[1], middle)
    right /= np.linalg.norm(right)
    return right, np.cross(middle, right), middle


def _spread_numbers(index: NDArray[np.int64], count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Numbers of a set evenly spread over the unit square: k/count, and its golden-ratio partner.

    Neighbouring places take indices far apart, so that a small part of a tile already sees a mixed set.
    """
    k = (index * 37) % count
    return (k + 0.5) / count, np.asarray(k * 0.61803398875 % 1.0, dtype=np.float64)

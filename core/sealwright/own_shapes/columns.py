"""Surface, hollow and far side of a solid along parallel rays: what a fitting finds where it shall stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Bools, Floats, TriMesh

_FLAT_MM2 = 1e-9  # triangles that stand along the rays are met by none
_EDGE = 1e-9  # share of a triangle by which a ray on its edge counts as inside
_NUDGE_MM = np.array([1.7e-5, 1.1e-5])  # corners of models often lie on round numbers, as places do
_CHUNK = 400_000  # pairs of rays and triangles that are looked at at once


@dataclass(frozen=True, eq=False)
class Columns:
    """Heights along +Z of a frame, mm, at k places across.

    Attributes
    ----------
    places : (k, 2) x and y in the frame.
    surface : (k,) of the outer surface; NaN where there is none.
    far : (k,) where the ray leaves the solid for the first time below it; NaN likewise.
    behind : (k,) where it enters it again, -inf where never.
    """

    places: Floats
    surface: Floats
    far: Floats
    behind: Floats

    @property
    def there(self) -> Bools:
        """Places (k,) with a surface."""
        return np.asarray(np.isfinite(self.surface))

    @property
    def thick(self) -> Floats:
        """Thickness (k,) along the rays."""
        return self.surface - self.far


def columns_under(mesh: TriMesh, frame: Floats, places: Floats, reach_mm: float) -> Columns:
    """Look along the axis of a frame at a closed mesh.

    Parameters
    ----------
    mesh : closed, outward.
    frame : 4x4; rays run along its -Z.
    places : (k, 2) x and y in the frame, mm.
    reach_mm : the surface is looked for so far above and below the frame's origin; of several sheets the
        one nearest to it is meant.
    """
    ray, height, outward = _crossings(mesh, frame, places + _NUDGE_MM)
    surface, far = np.full(len(places), np.nan), np.full(len(places), np.nan)
    behind = np.full(len(places), -np.inf)
    for number in np.unique(ray):
        mine = ray == number
        up, down = np.sort(height[mine & outward]), np.sort(height[mine & ~outward])
        near = up[np.abs(up) <= reach_mm]
        if not len(near):
            continue
        top = float(near[np.argmin(np.abs(near))])
        out = down[down < top]
        if not len(out):
            continue
        surface[number], far[number] = top, out[-1]
        again = up[up < out[-1]]
        behind[number] = again[-1] if len(again) else -np.inf
    return Columns(places, surface, far, behind)


def disc_places(radius_mm: float, step_mm: float) -> Floats:
    """Places (k, 2) on even rings in a disc, the last ring on its rim."""
    rings = max(int(np.ceil(radius_mm / step_mm)), 2)
    found = [np.zeros((1, 2))]
    for radius in radius_mm * np.arange(1, rings + 1) / rings:
        turn = 2.0 * np.pi * np.arange(count := max(int(np.ceil(2.0 * np.pi * radius / step_mm)), 12)) / count
        found.append(radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    return np.concatenate(found)


def _crossings(mesh: TriMesh, frame: Floats, places: Floats) -> tuple[Floats, Floats, Bools]:
    """Ray (c,), height (c,) and whether the surface looks along +Z, of every crossing."""
    local = (mesh.vertices - frame[:3, 3]) @ frame[:3, :3]
    corners = local[mesh.faces]
    low, high = corners[..., :2].min(axis=1), corners[..., :2].max(axis=1)
    near = ((low <= places.max(axis=0)) & (high >= places.min(axis=0))).all(axis=1)
    a, b, c = (corners[near, k] for k in range(3))
    twice = _turn(b - a, c - a)
    flat = np.abs(twice) < _FLAT_MM2
    a, b, c, twice = a[~flat], b[~flat], c[~flat], twice[~flat]
    rays, heights, outwards = [], [], []
    step = max(_CHUNK // max(len(places), 1), 1)
    for first in range(0, len(a), step):
        part = slice(first, first + step)
        u, v, w = (
            _turn(two - one, places[None] - one[..., :2]) / twice[part, None]
            for one, two in (
                (b[part, None], c[part, None]),
                (c[part, None], a[part, None]),
                (a[part, None], b[part, None]),
            )
        )
        triangle, ray = np.nonzero((u >= -_EDGE) & (v >= -_EDGE) & (w >= -_EDGE))
        weights = [share[triangle, ray] for share in (u, v, w)]
        at = [corner[part][triangle, 2] for corner in (a, b, c)]
        rays.append(ray)
        heights.append(sum(weight * z for weight, z in zip(weights, at, strict=True)))
        outwards.append(twice[part][triangle] > 0.0)
    if not rays:
        return np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.bool_)
    return np.concatenate(rays), np.concatenate(heights), np.concatenate(outwards)


def _turn(one: Floats, two: Floats) -> Floats:
    """Cross product of vectors (..., 2 or more) in the plane of the frame."""
    return np.asarray(one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0])

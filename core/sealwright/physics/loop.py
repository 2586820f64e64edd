"""Bands made from a regular grid, or cut narrower; the worst arc of a loop."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import DoesNotFit
from ..mesh import Floats
from ..values import require_range
from .patch import ContactPatch, contact_patch_of
from .stations import Codes
from .stations import Loop as Loop  # part of what this module gives


def loop_of(patch: ContactPatch) -> Loop:
    """The stations of a band, which the band carries with it: they are sorted and measured once."""
    return patch.loop


def band_width_mm(patch: ContactPatch) -> float:
    """Typical width of a band, mm: area of a station over the length of line it stands for, median."""
    loop = loop_of(patch)
    return float(np.median(loop.per_station(np.add, patch.areas) / loop.width_mm))


def patch_from_grid(
    points: ArrayLike,
    normals: ArrayLike,
    gap_mm: ArrayLike,
    across_mm: ArrayLike,
    region: ArrayLike,
    mix: ArrayLike | None = None,
) -> ContactPatch:
    """A contact patch from a regular grid of the band.

    Parameters
    ----------
    points, normals : (s, a, 3), stations round the closed loop by points across, inner side first.
    gap_mm, region : (s, a), or anything that broadcasts to it.
    across_mm : (a,) or (s, a), signed distance from the seal line.
    mix : (s * a, t) shares of the sites of the skin table, see `ContactPatch`.

    Each point's area is a quarter of the grid cells that meet in it.

    Raises
    ------
    BadNumbers : see `check_patch`.
    """
    grid = np.asarray(points, dtype=np.float64)
    shape = grid.shape[:2]
    return contact_patch_of(
        grid.reshape(-1, 3),
        np.asarray(normals, dtype=np.float64).reshape(-1, 3),
        grid_areas(grid).ravel(),
        np.broadcast_to(np.asarray(gap_mm, dtype=np.float64), shape).ravel(),
        np.repeat(np.arange(shape[0]), shape[1]),
        np.broadcast_to(np.asarray(across_mm, dtype=np.float64), shape).ravel(),
        np.broadcast_to(np.asarray(region, dtype=np.int64), shape).ravel(),
        mix,
    )


def grid_areas(grid: Floats) -> Floats:
    """Area share (s, a), mm2, of the points of a band grid (s, a, 3) that is closed along its first axis."""
    after = np.roll(grid, -1, axis=0)
    diagonal_1 = after[:, 1:] - grid[:, :-1]
    diagonal_2 = grid[:, 1:] - after[:, :-1]
    cell = 0.5 * np.linalg.norm(np.cross(diagonal_1, diagonal_2), axis=2)
    both = cell + np.roll(cell, 1, axis=0)
    share = np.zeros(grid.shape[:2])
    share[:, :-1] += 0.25 * both
    share[:, 1:] += 0.25 * both
    return share


def narrowed(patch: ContactPatch, width_mm: float) -> ContactPatch:
    """The same band cut to a strip of ``width_mm`` centred on the seal line: a narrow edge on the same face.

    A point whose share is cut keeps the part of its area that lies in the strip.

    Raises
    ------
    BadRecipe : width out of range.
    DoesNotFit : a station has no point inside the strip.
    """
    half = 0.5 * require_range(width_mm, 0.1, 100.0, "mm", "width_mm")
    loop = loop_of(patch)
    across, low, high = _cells(patch, loop)
    inside = np.clip(np.minimum(high, half) - np.maximum(low, -half), 0.0, None)
    part = np.divide(inside, high - low, out=np.zeros_like(inside), where=high > low)
    keep = part > 1e-9
    if np.add.reduceat(keep.astype(np.int64), loop.starts).min() == 0:
        raise DoesNotFit(
            f"Some stations have no point within {half:g} mm of the seal line.",
            "contact band",
            "Take a wider strip or a denser grid across the band.",
        )
    index = loop.order[keep]
    moved = np.clip(across, -half, half)[keep] - across[keep]
    return contact_patch_of(
        patch.points[index],
        patch.normals[index],
        patch.areas[index] * part[keep],
        patch.gap_mm[index],
        patch.station[index],
        patch.across_mm[index] + moved,
        patch.region[index],
        None if patch.mix is None else patch.mix[index],
    )


def _cells(patch: ContactPatch, loop: Loop) -> tuple[Floats, Floats, Floats]:
    """Sorted across positions, and the lower and upper end of each point's share across the band."""
    across = patch.across_mm[loop.order]
    middle = 0.5 * (across[1:] + across[:-1])
    low, high = np.r_[across[0], middle], np.r_[middle, across[-1]]
    last = np.r_[loop.starts[1:], len(across)] - 1
    single = last == loop.starts
    low[loop.starts] = across[loop.starts] - _rest(
        loop, loop.starts, high[loop.starts] - across[loop.starts], single
    )
    high[last] = across[last] + _rest(loop, last, across[last] - low[last], single)
    return across, low, high


def _rest(loop: Loop, index: Codes, inner: Floats, single: NDArray[np.bool_]) -> Floats:
    """What is left of an end point's depth beyond its inner half; half the depth where it stands alone."""
    depth = loop.depth_mm[index]
    return np.where(single, 0.5 * depth, np.clip(depth - inner, 0.0, None))


def worst_arc(share: Floats, width_mm: Floats, wanted: float = 0.5) -> tuple[int, int, float]:
    """Shortest arc of a closed loop that carries a wanted part of the leak.

    Returns
    -------
    first, last : stations, the arc runs upwards from first to last (round the end if last < first).
    part : the arc's length as a part of the loop.
    """
    stations = len(share)
    sums = np.concatenate([[0.0], np.cumsum(np.tile(share, 2))])
    lengths = np.concatenate([[0.0], np.cumsum(np.tile(width_mm, 2))])
    goal = wanted * float(share.sum()) * (1.0 - 1e-12)
    ends = np.searchsorted(sums, sums[:stations] + goal)
    ends = np.clip(ends, np.arange(stations) + 1, np.arange(stations) + stations)
    arc = lengths[ends] - lengths[:stations]
    best = int(np.argmin(arc))
    return best, int(ends[best] - 1) % stations, float(arc[best] / lengths[stations])

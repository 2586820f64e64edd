"""How an unsupported region of a layer hangs: between two sides, from one side, or on nothing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats
from ..solids.polygon import inside_edges

_DIRECTIONS = 18  # every 10 degrees: a bridge is then at most 1.5 % longer than along its best direction
_FEW = 12
_HELD_SHARE = 0.95  # share of the line length that must be held at both ends to be a bridge


def held_edges(region: Floats, layer: Floats, step_mm: float = 0.01) -> Bools:
    """Which edges (k, 2, 2) of an unsupported region run along supported parts of its layer (m, 2, 2).

    Just outside an edge there is either supported material of the same layer or air.
    """
    along = region[:, 1] - region[:, 0]
    length = np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1) / length
    return inside_edges(region.mean(axis=1) + step_mm * outward, layer)


def bridge_span(region: Floats, held: Bools, line_mm: float) -> float | None:
    """Length of the longest line that bridges a region, laid in the best direction, mm.

    Parameters
    ----------
    region : (k, 2, 2) edges of the region.
    held : (k,) whether the edge rests on something.
    line_mm : distance between lines.

    Returns
    -------
    None when in no direction nearly all lines are held at both ends.
    """
    best = None
    height = float(np.linalg.norm(np.ptp(region.reshape(-1, 2), axis=0)))
    fine = int(np.clip(np.ceil(height / line_mm), 3, 200))
    # A long narrow bridge wants its lines exactly along its sides.
    sides = [] if held.all() else [_longest(region[~held])]
    turns = np.array([*(np.arange(_DIRECTIONS) * np.pi / _DIRECTIONS), *sides])
    # A few lines show already which directions are none for a bridge.
    for turn in turns[_held_shares(region, held, turns, min(fine, _FEW)) >= 0.8]:
        length, both, _ = _lines(region, held, np.array([turn]), fine)
        total = float(length.sum())
        if total > 0.0 and float(length[both].sum()) / total >= _HELD_SHARE:
            longest = float(length[both].max())
            best = longest if best is None else min(best, longest)
    return best


def _longest(edges: Floats) -> float:
    """Direction of the longest of some edges (k, 2, 2), rad."""
    along = edges[:, 1] - edges[:, 0]
    x, y = along[np.argmax(np.linalg.norm(along, axis=1))]
    return float(np.arctan2(y, x))


def _held_shares(region: Floats, held: Bools, turns: Floats, count: int) -> Floats:
    """Share of the length of some lines of every direction (t,) that is held at both ends."""
    length, both, turn = _lines(region, held, turns, count)
    total = np.bincount(turn, length, len(turns))
    return np.bincount(turn, length * both, len(turns)) / np.maximum(total, 1e-300)


def _lines(region: Floats, held: Bools, turns: Floats, count: int) -> tuple[Floats, Bools, NDArray[np.int64]]:
    """Lengths of ``count`` lines of each direction inside a region, whether both ends are held, direction."""
    along, across = np.stack([np.cos(turns), np.sin(turns)]), np.stack([-np.sin(turns), np.cos(turns)])
    u, v = np.moveaxis(region @ along, -1, 0), np.moveaxis(region @ across, -1, 0)  # (t, k, 2)
    low, high = v.min(axis=(1, 2)), v.max(axis=(1, 2))
    # Odd fractions keep the lines off the corners.
    y = low[:, None] + (high - low)[:, None] * (np.arange(count) + 0.4837) / count
    cut = (v[:, None, :, 0] > y[:, :, None]) != (v[:, None, :, 1] > y[:, :, None])
    turn, line, edge = np.nonzero(cut)
    p, q = u[turn, edge, 0], u[turn, edge, 1]
    rise = (y[turn, line] - v[turn, edge, 0]) / (v[turn, edge, 1] - v[turn, edge, 0])
    x = p + rise * (q - p)
    order = np.lexsort([x, turn * count + line])
    ends, of = x[order].reshape(-1, 2), held[edge[order]].reshape(-1, 2)
    return ends[:, 1] - ends[:, 0], of[:, 0] & of[:, 1], turn[order][::2]


def ledge_reach(region: Floats, held: Bools) -> float:
    """Largest distance from the free border of a region to its held border, mm."""
    free, rest = region[~held], region[held]
    if not len(free):
        return 0.0
    # A free edge between two held corners is farthest somewhere in its middle.
    share = np.linspace(0.0, 1.0, 5)[None, :, None]
    points = (free[:, :1] + share * (free[:, 1:] - free[:, :1])).reshape(-1, 2)
    along = rest[:, 1] - rest[:, 0]
    square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-12)
    away = points[:, None] - rest[None, :, 0]
    foot = np.clip(np.einsum("kij,ij->ki", away, along) / square, 0.0, 1.0)
    return float(np.linalg.norm(away - foot[..., None] * along, axis=2).min(axis=1).max())

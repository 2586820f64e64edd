"""Which axis-aligned boxes of a set overlap: the coarse step before any exact test of triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

Indices = NDArray[np.int64]


def overlapping_boxes(low: Floats, high: Floats) -> tuple[Indices, Indices]:
    """All pairs of boxes that touch or overlap.

    The boxes are put in Morton order of their middles and form a full binary tree; the tree is walked
    against itself level by level, so that every step is one array operation.

    Parameters
    ----------
    low, high : (n, 3) corners, any unit.

    Returns
    -------
    first, second : (k,) box numbers, first < second, sorted.
    """
    count = len(low)
    depth = max(int(np.ceil(np.log2(max(count, 1)))), 0)
    order = _morton_order(0.5 * (low + high))
    levels = _tree(low[order], high[order], depth)
    first = second = np.zeros(1, dtype=np.int64)
    for lowest, highest in levels[1:]:
        first, second = _children(first, second)
        hit = np.ones(len(first), dtype=np.bool_)
        for axis in range(3):
            hit[hit] = lowest[axis][first[hit]] <= highest[axis][second[hit]]
            hit[hit] = lowest[axis][second[hit]] <= highest[axis][first[hit]]
        first, second = first[hit], second[hit]
    inside = (first != second) & (first < count) & (second < count)
    one, two = order[first[inside]], order[second[inside]]
    one, two = np.minimum(one, two), np.maximum(one, two)
    key = np.sort(one * count + two)
    return key // count, key % count


def _children(first: Indices, second: Indices) -> tuple[Indices, Indices]:
    """The pairs of children of pairs of nodes, each unordered pair once."""
    same = first == second
    a, b, s = 2 * first[~same], 2 * second[~same], 2 * first[same]
    one = np.concatenate([a, a, a + 1, a + 1, s, s, s + 1])
    two = np.concatenate([b, b + 1, b, b + 1, s, s + 1, s + 1])
    return one, two


def _tree(low: Floats, high: Floats, depth: int) -> list[tuple[Floats, Floats]]:
    """Bounds of the nodes of every level from the root down, each (3, 2^level); padding never overlaps."""
    lowest = np.full((3, 2**depth), np.inf)
    highest = np.full((3, 2**depth), -np.inf)
    lowest[:, : len(low)], highest[:, : len(high)] = low.T, high.T
    levels = [(lowest, highest)]
    for _ in range(depth):
        lowest = np.minimum(lowest[:, ::2], lowest[:, 1::2])
        highest = np.maximum(highest[:, ::2], highest[:, 1::2])
        levels.append((lowest, highest))
    return levels[::-1]


def _morton_order(points: Floats) -> Indices:
    """Order of points along a space-filling curve on a grid of 2^20 cells a side."""
    span = float(np.ptp(points, axis=0).max()) or 1.0
    cells = ((points - points.min(axis=0)) * ((2**20 - 1) / span)).astype(np.uint64)
    code = np.zeros(len(points), dtype=np.uint64)
    for axis in range(3):
        code |= _spread(cells[:, axis]) << np.uint64(axis)
    return np.argsort(code, kind="stable").astype(np.int64)


def _spread(bits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """The low 20 bits of each number, with two zero bits put between neighbours."""
    masks = (0x1F00000000FFFF, 0x1F0000FF0000FF, 0x100F00F00F00F00F, 0x10C30C30C30C30C3, 0x1249249249249249)
    for shift, mask in zip((32, 16, 8, 4, 2), masks, strict=True):
        bits = (bits | (bits << np.uint64(shift))) & np.uint64(mask)
    return bits

"""Triangles over quadtree leaves, without cracks: a large leaf takes its small neighbours into a fan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class Leaves:
    """Leaves of one size: squares on a lattice.

    Attributes
    ----------
    size : steps of the lattice along a side; 1 or even.
    row, column : (n,) lowest corners.
    """

    size: int
    row: NDArray[np.int64]
    column: NDArray[np.int64]

    def where(self, keep: Bools) -> Leaves:
        """The leaves where ``keep`` (n,) is true."""
        return Leaves(self.size, self.row[keep], self.column[keep])

    def times(self, factor: int) -> Leaves:
        """The same leaves on a lattice that is ``factor`` times as fine."""
        return Leaves(self.size * factor, self.row * factor, self.column * factor)


def triangulated(side: int, leaves: Sequence[Leaves]) -> tuple[Bools, Ints]:
    """Triangles that cover leaves without gaps, whichever sizes meet.

    Parameters
    ----------
    side : places along one side of the lattice.
    leaves : they may touch but not overlap.

    Returns
    -------
    used : (side, side) places of the lattice that are corners of triangles.
    faces : (m, 3) int32 flat places; plain ones have diagonals that mirror at the middle column.
    """
    used = np.zeros(side * side, dtype=bool)
    for some in leaves:
        low = some.row * side + some.column
        for corner in (0, some.size, some.size * side, some.size * (side + 1)):
            used[low + corner] = True
    faces = [triangles for some in leaves for triangles in _triangles(some, used, side)]
    whole = np.vstack(faces).astype(np.int32)
    used[whole.ravel()] = True  # the middles of the fans
    return used.reshape(side, side), whole


def whole_squares(vertex: Bools) -> Bools:
    """Pixel squares (h - 1, w - 1) all of whose corners are marked in ``vertex`` (h, w)."""
    return np.asarray(vertex[:-1, :-1] & vertex[1:, :-1] & vertex[:-1, 1:] & vertex[1:, 1:])


def _triangles(leaves: Leaves, used: Bools, side: int) -> list[NDArray[np.int64]]:
    """Two triangles for each plain square, a fan round the middle for each with more corners on its sides."""
    size, low = leaves.size, leaves.row * side + leaves.column
    turn = _once_round(size, side)
    on = used[low[:, None] + turn]
    many = on.sum(axis=1) > 4
    a, b, c, d = (low + turn[quarter * size] for quarter in range(4))
    left = leaves.column < side // 2
    one, two = ~many & left, ~many & ~left
    pairs = [(a, b, c, one), (a, c, d, one), (a, b, d, two), (b, c, d, two)]
    plain = [np.stack([x[chosen], y[chosen], z[chosen]], axis=1) for x, y, z, chosen in pairs]
    owner, place = np.nonzero(on[many])
    if len(owner) == 0:
        return plain
    following = np.arange(1, len(owner) + 1)
    last = np.flatnonzero(np.diff(owner, append=-1))
    following[last] = np.concatenate([[0], last[:-1] + 1])
    corner = low[many][owner] + turn[place]
    middle = low[many][owner] + size // 2 * (side + 1)
    return [*plain, np.stack([corner, corner[following], middle], axis=1)]


def _once_round(size: int, side: int) -> NDArray[np.int64]:
    """Flat offsets (4 size,) of the places on a square's border, from its lowest corner along its row."""
    step = np.arange(size)
    return np.concatenate([step, size + step * side, size * side + size - step, (size - step) * side])


def flat_leaves(values: Floats, leaves: Leaves, bow: Floats, limit: Floats) -> Bools:
    """Which leaves (n,) of an image their two triangles follow within a limit.

    Where values are distances along rays from a point, flat triangles do not interpolate them linearly but
    bow towards it; by Taylor's formula this is r t^2 / 4 in the middle of a square seen under an angle t.

    Parameters
    ----------
    values : (h, h) image on the lattice of the leaves.
    leaves : n leaves.
    bow : (n,) by how much less than linearly the middle of each square is interpolated.
    limit : (n,) largest distance that is allowed in each.
    """
    side, size = len(values), leaves.size
    flat = values.ravel()
    low = leaves.row * side + leaves.column
    a, b, c, d = (flat[low + corner] for corner in (0, size, size * (side + 1), size * side))
    # Diagonals run from a to c left of the middle column and from b to d right of it.
    left = leaves.column < side // 2
    good = np.ones(len(low), dtype=bool)
    for i in range(size + 1):
        for j in range(size + 1):
            s, t = i / size, j / size
            one = a + t * (b - a) + s * (c - b) if t >= s else a + s * (d - a) + t * (c - d)
            two = a + t * (b - a) + s * (d - a) if s + t <= 1.0 else c + (1 - t) * (d - c) + (1 - s) * (b - c)
            found = np.where(left, one, two) - 2.0 * bow * (s * (1.0 - s) + t * (1.0 - t))
            good &= np.abs(flat[low + i * side + j] - found) <= limit
    return good


def leaves_of(image: Bools, size: int) -> Leaves:
    """The marked squares of an image (k, k), as leaves that are ``size`` steps of the lattice wide."""
    row, column = np.nonzero(image)
    return Leaves(size, row * size, column * size)

"""The contact band as a closed loop of stations along the seal line."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..errors import DoesNotFit
from ..mesh import Floats

Codes = NDArray[np.int64]
T = TypeVar("T", bound=np.generic)


@dataclass(frozen=True, eq=False)
class Loop:
    """Points of a band sorted by station and then from the inner to the outer side.

    Attributes
    ----------
    order : (n,) indices that sort the points.
    starts : (s,) first sorted index of each station.
    line : (s, 3) mm, the seal line point of each station (interpolated at across = 0).
    width_mm : (s,) length of seal line that each station stands for.
    depth_mm : (n,) sorted: how far each point's share reaches across the band (area over station width).
    """

    order: Codes
    starts: Codes
    line: Floats
    width_mm: Floats
    depth_mm: Floats

    @cached_property
    def _in_order(self) -> bool:
        return bool(np.array_equal(self.order, np.arange(len(self.order))))

    def sorted_rows(self, values: NDArray[T]) -> NDArray[T]:
        """Values (m, n) in the patch's own order as (m, n) sorted; not copied where they are sorted."""
        return values if self._in_order else values[:, self.order]

    def per_station(self, function: np.ufunc, values: NDArray[np.generic]) -> Floats:
        """Reduce (n,) values in the patch's own order to (s,) with a ufunc (np.add, np.maximum, ...)."""
        return np.asarray(function.reduceat(values[self.order], self.starts))


def loop_through(points: Floats, areas: Floats, station: Codes, across_mm: Floats) -> Loop:
    """Sort a band into stations and measure the seal line; the line is taken as closed.

    A station stands for half the way to each neighbour along the seal line. Arguments as in `ContactPatch`.

    Raises
    ------
    DoesNotFit : stations that lie on top of each other.
    """
    order = np.lexsort((across_mm, station))
    sorted_station = station[order]
    starts = np.flatnonzero(np.r_[True, np.diff(sorted_station) > 0])
    line = _seal_line(points[order], across_mm[order], starts)
    step = np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1)
    width = 0.5 * (step + np.roll(step, 1))
    if width.min() <= 0.0:
        raise DoesNotFit(
            f"{int((width <= 0).sum())} stations of the seal line lie on top of each other.",
            "seal line",
            "Give at least three stations at different places.",
        )
    depth = areas[order] / width[sorted_station]
    return Loop(order.astype(np.int64), starts.astype(np.int64), line, width, depth)


def _seal_line(points: Floats, across: Floats, starts: Codes) -> Floats:
    """Points (s, 3) at across = 0, or the end point nearest to it where a station lies on one side only."""
    ends = np.r_[starts[1:], len(points)] - 1
    below = np.add.reduceat((across <= 0.0).astype(np.int64), starts)
    left = np.clip(starts + below - 1, starts, ends)
    right = np.minimum(left + 1, ends)
    span = across[right] - across[left]
    part = np.divide(-across[left], span, out=np.zeros_like(span), where=span > 0)
    part = np.clip(part, 0.0, 1.0)[:, None]
    return np.asarray(points[left] * (1.0 - part) + points[right] * part)

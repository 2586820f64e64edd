"""Smooth offsets of a contact surface: waves along the seal line, even across the band and tilted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .loop import loop_of
from .patch import ContactPatch


@dataclass(frozen=True, eq=False)
class OffsetModes:
    """Modes of a band.

    Attributes
    ----------
    shapes : (n, modes) of every point; of one millimetre each.
    most_mm : no offset is larger, to either side.
    """

    shapes: Floats
    most_mm: float

    def offsets(self, sizes: Floats) -> Floats:
        """Offsets (n,) mm for sizes (modes,) of the modes, bent smoothly below the bound."""
        return np.asarray(self.most_mm * np.tanh(self.shapes @ sizes / self.most_mm))

    def to_sizes(self, sizes: Floats, slope: Floats) -> Floats:
        """Slope (modes,) of a number with the sizes, from its slope (n,) with the offsets."""
        bent = 1.0 - np.tanh(self.shapes @ sizes / self.most_mm) ** 2
        return np.asarray(self.shapes.T @ (slope * bent))


def modes_of(patch: ContactPatch, waves: int, most_mm: float) -> OffsetModes:
    """Up to so many waves along the line, each even and tilted across the band.

    Parameters
    ----------
    patch : the band.
    waves : round the line; the shortest is its length over this number.
    most_mm : bound of the offsets.
    """
    loop = loop_of(patch)
    along = np.concatenate([[0.0], np.cumsum(0.5 * (loop.width_mm[1:] + loop.width_mm[:-1]))])
    turn = 2.0 * np.pi * along[patch.station] / loop.width_mm.sum()
    across = patch.across_mm / np.abs(patch.across_mm).max()
    even = [np.ones_like(turn)]
    even += [wave(number * turn) for number in range(1, waves + 1) for wave in (np.cos, np.sin)]
    flat = np.stack(even, axis=1)
    return OffsetModes(np.hstack([flat, flat * across[:, None]]), most_mm)

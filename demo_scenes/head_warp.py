"""Bends the sculpted head to a wearer's measures: smooth, invertible stretches, each owning one measure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sealwright.mesh import Floats


def ramp(value: Floats, start: float, end: float, soft: float) -> Floats:
    """A slope from 0 before ``start`` to 1 after ``end`` with corners rounded over about ``soft`` mm."""
    rising = np.logaddexp(0.0, (value - start) / soft) - np.logaddexp(0.0, (value - end) / soft)
    slope: Floats = rising * soft / (end - start)
    return slope


def window(p: Floats, centre: tuple[float, float, float], reach: tuple[float, float, float]) -> Floats:
    """Smooth weight (n,): 1 at the centre, flat-topped, near 0 beyond ``reach`` mm; even in x about 0."""
    parts = ((p - np.asarray(centre)) / np.asarray(reach)) ** 2
    return np.asarray(np.exp(-1.5 * np.einsum("ij->i", parts * parts)))


@dataclass(frozen=True)
class Warp:
    """Amounts of each stretch; all zero leaves the sculpted head as it is.

    Attributes
    ----------
    lower_mm : moves everything below the mouth down.
    upper_mm : moves everything above the nose root up.
    width, nose_width, lip_width, jaw_width : shares added to x, of the whole and by region.
    nose_mm : carries the nose tip forward.
    chin_mm : carries the chin forward.
    cheek_mm : fills the cheeks beside the mouth.
    bridge_mm : raises the nose bridge between root and tip.
    lop_mm : one-sidedness; the nose bends to the left, the jaw to the right.
    """

    lower_mm: float = 0.0
    upper_mm: float = 0.0
    width: float = 0.0
    nose_width: float = 0.0
    lip_width: float = 0.0
    jaw_width: float = 0.0
    nose_mm: float = 0.0
    chin_mm: float = 0.0
    cheek_mm: float = 0.0
    bridge_mm: float = 0.0
    lop_mm: float = 0.0

    def moved(self, p: Floats) -> Floats:
        """Points (n, 3) of the sculpted head, mm, where this wearer has them."""
        x, y, z = p.T
        wide = (1.0 + self.width) * (1.0 + self.jaw_width * (1.0 - ramp(z, -45.0, 10.0, 8.0)))
        wide *= 1.0 + self.nose_width * window(p, (0, 0, 5), (26, 26, 20))
        wide *= 1.0 + self.lip_width * window(p, (0, 4, -22), (38, 30, 16))
        forward = (
            self.nose_mm * np.logaddexp(0.0, -(y + 4.0) / 4.0) / 4.0 * window(p, (0, -10, 10), (26, 40, 32))
        )
        forward += self.chin_mm * window(p, (0, 10, -56), (34, 40, 26))
        forward += self.bridge_mm * window(p, (0, -5, 30), (14, 20, 16))
        fuller = self.cheek_mm * np.tanh(x / 20.0) * window(p, (0, 30, -18), (70, 34, 26))
        longer = self.upper_mm * ramp(z, 4.0, 48.0, 5.0) - self.lower_mm * (1.0 - ramp(z, -62.0, -6.0, 6.0))
        bent = np.stack([x * wide + fuller, y - forward - 0.3 * np.abs(fuller), z + longer], axis=1)
        return bent + self.lop_mm * _lopsided(p)


def _lopsided(p: Floats) -> Floats:
    """Displacement (n, 3) per mm of one-sidedness: the kind and size faces commonly have, no source."""
    side = np.tanh(p[:, 0] / 25.0)
    tip, jaw = window(p, (0, -10, 10), (24, 40, 26)), window(p, (0, 20, -56), (60, 60, 34))
    mouth, cheek = window(p, (0, 5, -22), (40, 40, 18)), window(p, (0, 30, 15), (75, 45, 36))
    return np.stack([0.7 * tip - jaw, -0.6 * side * cheek, 0.5 * side * mouth], axis=1)

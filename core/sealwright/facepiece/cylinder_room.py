"""Room of what stands on a port, as a cylinder about its axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats

_RIM = 32


@dataclass(frozen=True)
class Cylinder:
    """Room of what hangs on a port: about +Z of a frame, from low to high."""

    frame: Floats
    radius: float
    low: float
    high: float

    def holds(self, points: Floats, off_mm: float = 0.0) -> bool:
        """Whether any of the points (n, 3) lies in it or nearer than ``off_mm``."""
        local = (points - self.frame[:3, 3]) @ self.frame[:3, :3]
        across = np.hypot(local[:, 0], local[:, 1])
        along = (local[:, 2] > self.low - off_mm) & (local[:, 2] < self.high + off_mm)
        return bool((along & (across < self.radius + off_mm)).any())

    def points(self) -> Floats:
        """Points (n, 3) on its ends and its side."""
        turn = 2.0 * np.pi * np.arange(_RIM) / _RIM
        ring = np.stack([np.cos(turn), np.sin(turn), np.zeros(_RIM)], axis=1)
        levels = np.linspace(self.low, self.high, 6)
        rows = [
            share * self.radius * ring + [0.0, 0.0, level] for share in (1.0, 0.6, 0.2) for level in levels
        ]
        return np.asarray(np.concatenate(rows) @ self.frame[:3, :3].T + self.frame[:3, 3])

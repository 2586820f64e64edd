"""A flat drawing in millimetres, to be cut or printed at full size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats

STYLES = ("cut", "tape", "mark")
"""Layers of a drawing: where it is cut, where the adhesive ends, what is only to be read."""

PAGE_MM = (210.0, 297.0)  # ISO 216 A4
MARGIN_MM = 10.0  # that every printer reaches
RULER_MM = 100.0


@dataclass(frozen=True, eq=False)
class Path:
    """A line of straight pieces: points (n, 2) in mm, y upwards; ``style`` is one of `STYLES`."""

    points: Floats
    closed: bool
    style: str


@dataclass(frozen=True)
class Label:
    """A line of plain ASCII text, its left lower corner at ``at`` in mm."""

    text: str
    at: tuple[float, float]
    height_mm: float = 3.5


@dataclass(frozen=True)
class Drawing:
    """Paths and labels on a sheet, mm, origin at the lower left."""

    width_mm: float
    height_mm: float
    paths: tuple[Path, ...]
    labels: tuple[Label, ...]

    def moved(self, x_mm: float, y_mm: float) -> Drawing:
        """The same further right and up, on the same sheet."""
        shift = np.array([x_mm, y_mm])
        paths = tuple(Path(p.points + shift, p.closed, p.style) for p in self.paths)
        labels = tuple(Label(t.text, (t.at[0] + x_mm, t.at[1] + y_mm), t.height_mm) for t in self.labels)
        return Drawing(self.width_mm, self.height_mm, paths, labels)


def stacked(pages: Sequence[Drawing]) -> Drawing:
    """Pages below each other on one sheet, the first on top."""
    height = sum(page.height_mm for page in pages)
    paths: list[Path] = []
    labels: list[Label] = []
    top = height
    for page in pages:
        top -= page.height_mm
        placed = page.moved(0.0, top)
        paths += placed.paths
        labels += placed.labels
    return Drawing(max(page.width_mm for page in pages), height, tuple(paths), tuple(labels))


def ruler(at: tuple[float, float]) -> tuple[tuple[Path, ...], tuple[Label, ...]]:
    """A ruler of 100 mm with a stroke each 10 mm, its left end at a place."""
    x, y = at
    ticks = [np.array([[x + t, y], [x + t, y + (5.0 if t % 50 == 0 else 3.0)]]) for t in range(0, 101, 10)]
    base = np.array([[x, y], [x + RULER_MM, y]])
    paths = tuple(Path(points, False, "mark") for points in (base, *ticks))
    text = "100 mm: measure this line on the print; if it is not 100 mm, print at 100 % without fitting"
    return paths, (Label(text, (x, y - 4.5), 2.8),)

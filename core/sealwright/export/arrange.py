"""Placing parts on the bed: turned as they print, side by side, standing on z = 0 in the positive octant."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats

GAP_MM = 5.0  # between parts, and to the edge of the bed


@dataclass(frozen=True, eq=False)
class OnBed:
    """Where a part prints: number of its plate, from 0, and its 4x4 there."""

    plate: int
    place: Floats


def side_by_side(
    vertices: Sequence[Floats],
    orientations: Sequence[Floats],
    assemblies: Sequence[str],
    bed_mm: tuple[float, float] = (205.0, math.inf),
    gap_mm: float = GAP_MM,
) -> list[OnBed]:
    """Lay parts out in rows, and in as many plates as they need.

    Parameters
    ----------
    vertices : one (n, 3) array per part, mm.
    orientations : one 4x4 per part; only its turning counts for lone parts.
    assemblies : parts with the same name, if not empty, keep their places to each other and move as one;
        they must have the same orientation.
    bed_mm : width and depth of the bed; what is larger alone gets a plate of its own.
    gap_mm : free space between parts and to the edge of the bed.

    Returns
    -------
    One place per part, rigid.
    """
    groups: dict[str, list[int]] = {}
    for number, name in enumerate(assemblies):
        groups.setdefault(f"assembly {name}" if name else f"part {number}", []).append(number)
    turned: list[Floats] = [np.array(t, dtype=np.float64) for t in orientations]
    placed: dict[int, OnBed] = {}
    x = y = gap_mm
    depth, plate = 0.0, 0
    for members in groups.values():
        points = [vertices[k] @ turned[k][:3, :3].T + turned[k][:3, 3] for k in members]
        low = np.min([p.min(axis=0) for p in points], axis=0)
        size = np.max([p.max(axis=0) for p in points], axis=0) - low
        if x > gap_mm and x + size[0] + gap_mm > bed_mm[0]:
            x, y, depth = gap_mm, y + depth + gap_mm, 0.0
        if y > gap_mm and y + size[1] + gap_mm > bed_mm[1]:
            x, y, depth, plate = gap_mm, gap_mm, 0.0, plate + 1
        for k in members:
            turned[k][:3, 3] += np.array([x, y, 0.0]) - low
            placed[k] = OnBed(plate, turned[k])
        x, depth = x + float(size[0]) + gap_mm, max(depth, float(size[1]))
    return [placed[k] for k in range(len(vertices))]

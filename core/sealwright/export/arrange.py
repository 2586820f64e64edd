"""Placing parts on the bed: turned as they print, side by side, standing on z = 0 in the positive octant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..mesh import Floats


def side_by_side(
    vertices: Sequence[Floats],
    orientations: Sequence[Floats],
    assemblies: Sequence[str],
    gap_mm: float = 5.0,
    row_mm: float = 200.0,
) -> list[Floats]:
    """Transforms that lay parts out in rows.

    Parameters
    ----------
    vertices : one (n, 3) array per part, mm.
    orientations : one 4x4 per part; only its turning counts for lone parts.
    assemblies : parts with the same name, if not empty, keep their places to each other and move as one;
        they must have the same orientation.
    gap_mm : free space between parts and to the origin.
    row_mm : a new row starts when a row gets longer.

    Returns
    -------
    One 4x4 per part, rigid.
    """
    groups: dict[str, list[int]] = {}
    for number, name in enumerate(assemblies):
        groups.setdefault(f"assembly {name}" if name else f"part {number}", []).append(number)
    placed: list[Floats] = [np.array(t, dtype=np.float64) for t in orientations]
    x = y = gap_mm
    depth = 0.0
    for members in groups.values():
        points = [vertices[k] @ placed[k][:3, :3].T + placed[k][:3, 3] for k in members]
        low = np.min([p.min(axis=0) for p in points], axis=0)
        size = np.max([p.max(axis=0) for p in points], axis=0) - low
        if x > gap_mm and x + size[0] > row_mm:
            x, y, depth = gap_mm, y + depth + gap_mm, 0.0
        for k in members:
            placed[k][:3, 3] += np.array([x, y, 0.0]) - low
        x, depth = x + float(size[0]) + gap_mm, max(depth, float(size[1]))
    return placed

"""Walks over the skin: straight on from each station of a line, as a tape would lie."""

from __future__ import annotations

import numpy as np

from ..face.surface import FaceSurface
from ..mesh import Bools, Floats


def walked(face: FaceSurface, start: Floats, heading: Floats, distance: Floats | float, steps: int) -> Floats:
    """Rows (n, steps + 1, 3) on the smoothed skin, mm, straight on from the stations.

    Parameters
    ----------
    face : the skin.
    start : (n, 3) mm, dropped onto it.
    heading : (n, 3) unit directions of the first step.
    distance : how far to walk, mm; one for all or (n, 1).
    steps : how many.
    """
    here = face.drop_on_skin(start, smooth=True)
    rows = [here]
    for _ in range(steps):
        normal = face.normal_at(face.chart.place_of(here)[0])
        heading = heading - (heading * normal).sum(-1, keepdims=True) * normal
        heading = heading / np.linalg.norm(heading, axis=-1, keepdims=True)
        here = face.drop_on_skin(here + heading * (distance / steps), smooth=True)
        rows.append(here)
    return np.stack(rows, axis=1)


def right_of(face: FaceSurface, line: Floats) -> tuple[Floats, Floats]:
    """Unit ways (n, 3) to the right of a closed line along the smoothed skin, and away from the skin."""
    normal = face.normal_at(face.chart.place_of(line)[0])
    flat = face.drop_on_skin(line, smooth=True)
    along = np.roll(flat, -1, axis=0) - np.roll(flat, 1, axis=0)
    out = np.cross(along, normal)
    return out / np.linalg.norm(out, axis=1, keepdims=True), normal


def folded_cells(pq: Floats) -> Bools:
    """Which cells (n, k - 1) of a strip (n, k, 2) on the chart, right of its first row, are turned over."""
    along, across = np.roll(pq, -1, axis=0)[:, :-1] - pq[:, :-1], pq[:, 1:] - pq[:, :-1]
    return np.asarray(along[..., 0] * across[..., 1] - along[..., 1] * across[..., 0] >= 0)

"""Neck and shoulders under a head that is cut through the neck: rings from the cut outward and down."""

from __future__ import annotations

import numpy as np
from sealwright.mesh import Floats, Ints, TriMesh, edge_use, trimesh_of

_RINGS = 26
_WIDE_MM, _DEEP_MM, _DOWN_MM = 185.0, 95.0, 150.0


def with_shoulders(mesh: TriMesh, breadth: float = 1.0) -> TriMesh:
    """The head with neck, shoulders and the top of the chest, one sheet, open below.

    Parameters
    ----------
    mesh : head whose lowest border is a level cut through the neck; face frame, mm.
    breadth : breadth of the shoulders over the usual 370 mm.
    """
    loop = _border(mesh)
    start = mesh.vertices[loop]
    middle = start.mean(axis=0)
    round_it = np.arctan2(start[:, 0] - middle[0], -(start[:, 1] - middle[1]))
    rings = [start]
    for share in np.linspace(0.0, 1.0, _RINGS + 1)[1:]:
        rings.append(_ring(start, middle, round_it, float(share), breadth))
    count, known = len(loop), len(mesh.vertices)
    points = np.vstack([mesh.vertices, *rings[1:]])
    index = np.vstack([loop, known + np.arange(_RINGS * count).reshape(_RINGS, count)])
    a, b = index[:-1], index[1:]
    a2, b2 = np.roll(a, -1, axis=1), np.roll(b, -1, axis=1)
    strips = np.stack([np.stack([a2, a, b], -1), np.stack([a2, b, b2], -1)]).reshape(-1, 3)
    return trimesh_of(points, np.vstack([mesh.faces, strips]).astype(np.int32), "bust")


def _ring(start: Floats, middle: Floats, round_it: Floats, share: float, breadth: float) -> Floats:
    """One ring (k, 3): the neck for the first third, then out over the shoulders, then down."""
    out = np.clip((share - 0.25) / 0.75, 0.0, 1.0)
    spread = out * out * (3.0 - 2.0 * out)
    target = np.column_stack(
        [
            middle[0] + breadth * _WIDE_MM * np.sin(round_it),
            middle[1] - _DEEP_MM * np.cos(round_it),
            np.full(len(start), middle[2]),
        ]
    )
    ring = (1.0 - spread) * start + spread * target
    ring[:, 2] -= _DOWN_MM * (0.45 * share + 0.55 * share**3)
    return np.asarray(ring)


def _border(mesh: TriMesh) -> Ints:
    """The lowest border loop's vertices in the order in which its triangles run along it (k,)."""
    edges, forward, backward = edge_use(mesh.faces)
    single = forward + backward == 1
    runs = zip(edges[single], forward[single] == 1, strict=True)
    following = {int(a if run else b): int(b if run else a) for (a, b), run in runs}
    loops = []
    while following:
        loop = [next(iter(following))]
        while (after := following.pop(loop[-1])) != loop[0]:
            loop.append(after)
        loops.append(np.array(loop, dtype=np.int32))
    return min(loops, key=lambda loop: float(mesh.vertices[loop, 2].mean()))

"""Landmarks of the procedural head, found by their definitions on densely solved patches of the surface.

Definitions: standard anthropometric usage (ISO 7250-1 terms, from memory). Names as in all of Sealwright,
with ``_left`` and ``_right`` for pairs; left is the wearer's, +X.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sealwright.mesh import Floats

from .head_grid import Chart, march
from .head_warp import Warp

Landmarks = dict[str, Floats]

# Rays through these places of the sculpted head carry the landmarks that no extremum defines sharply.
_AIMED = {
    "cheilion": (25.5, 10.5, -22.0),
    "gonion": (54.0, 80.0, -40.0),
    "tragion": (72.0, 96.0, 24.0),
    "pupil": (31.0, 11.5, 41.0),
    "infraorbitale": (32.0, 16.0, 25.0),
    "endocanthion": (17.0, 14.5, 39.5),
    "exocanthion": (46.5, 24.0, 40.0),
    "frontotemporale": (52.0, 28.0, 78.0),
}
# Rays over these boxes (lowest, highest corner) are searched for the most lateral point.
_WIDEST = {"alare": ((13, -6, -1), (19, 7, 13)), "zygion": ((60, 55, 12), (72, 90, 40))}


@dataclass(frozen=True)
class Probes:
    """Exact points of the sculpted head from which landmarks are read.

    Attributes
    ----------
    profile : (n, 3) midline from crown to neck.
    aimed : name -> (3,).
    patches : name -> (k, m, 3), rows of rising height, columns from front to back.
    """

    profile: Floats
    aimed: Landmarks
    patches: dict[str, Floats]


def probes_of(chart: Chart) -> Probes:
    """Solve the midline, the aimed rays and the patches, about 10,000 points."""
    polar = np.linspace(0.0, chart.lowest[0], 6001)
    profile = chart.points(polar, np.zeros_like(polar))
    aimed = {name: _hit(chart, np.array([place], dtype=float))[0] for name, place in _AIMED.items()}
    patches = {}
    for name, (low, high) in _WIDEST.items():
        a, b = np.array(low, dtype=float), np.array(high, dtype=float)
        v, u = np.meshgrid(np.linspace(0, 1, 61), np.linspace(0, 1, 61), indexing="ij")
        places = np.stack(
            [a[0] + (b[0] - a[0]) * u, a[1] + (b[1] - a[1]) * u, a[2] + (b[2] - a[2]) * v], axis=-1
        )
        patches[name] = _hit(chart, places.reshape(-1, 3)).reshape(61, 61, 3)
    return Probes(profile, aimed, patches)


def _hit(chart: Chart, places: Floats) -> Floats:
    rays = places - chart.star.centre
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    start = np.full(len(rays), float(chart.reach.max()) + 1.0)
    return chart.star.centre + march(chart.star.field, chart.star.centre, rays, start)[:, None] * rays


def landmarks_of(probes: Probes, warp: Warp) -> Landmarks:
    """All landmarks of the bent head, mm, in the sculpted head's frame."""
    found = _midline(warp.moved(probes.profile))
    for sign, side in ((1.0, "left"), (-1.0, "right")):
        mirror = np.array([sign, 1.0, 1.0])
        for name, place in probes.aimed.items():
            found[f"{name}_{side}"] = warp.moved((place * mirror)[None])[0]
        for name, patch in probes.patches.items():
            bent = warp.moved((patch * mirror).reshape(-1, 3)).reshape(patch.shape)
            found[f"{name}_{side}"] = _most_lateral(bent, sign)
    return found


def _most_lateral(patch: Floats, sign: float) -> Floats:
    """The most lateral point of the first swelling from the front, over all rows."""
    out = sign * patch[..., 0]
    peak = (out[:, 1:-1] >= out[:, :-2]) & (out[:, 1:-1] > out[:, 2:])
    rows = np.flatnonzero(peak.any(axis=1))
    if len(rows) == 0:  # no swelling: the surface runs on outward, the patch's own widest point is the answer
        row, column = np.unravel_index(np.argmax(out), out.shape)
        return np.array(patch[row, column])
    columns = 1 + np.argmax(peak[rows], axis=1)
    best = np.argmax(out[rows, columns])
    return np.array(patch[rows[best], columns[best]])


def _midline(line: Floats) -> Landmarks:
    """Landmarks on the midline (n, 3), crown to neck, each between the ones already found."""
    y, z = line[:, 1], line[:, 2]
    tip = int(np.argmin(np.where((z > -15) & (z < 30), y, np.inf)))

    def extreme(score: Floats, first: int, last: int) -> int:
        return first + int(np.argmax(score[first:last]))

    brow = int(np.argmin(np.where(z > 50, y, np.inf)[:tip]))
    sellion = extreme(y, brow, tip)
    chin_floor = int(np.argmax((z < z[tip] - 90) | (y > y[tip] + 45)) or len(z))
    chin_floor = tip + int(np.argmax(y[tip:] > y[tip] + 45))
    menton = extreme(-z - 0.35 * y, tip, chin_floor)
    upper = tip + int(np.argmax(z[tip:] < z[tip] - 18))
    subnasale = extreme(y + z, tip + 1, upper)
    middle = subnasale + int(np.argmax(z[subnasale:] < 0.55 * z[menton]))
    supramenton = extreme(y, subnasale + int(np.argmax(z[subnasale:] < 0.4 * z[menton])), middle + 40)
    stomion = extreme(y, *_lips(y, z, subnasale, supramenton))
    pogonion = extreme(-y, supramenton, menton)
    places = {
        "glabella": brow, "sellion": sellion, "pronasale": tip, "subnasale": subnasale, "stomion": stomion,
        "supramenton": supramenton, "pogonion": pogonion, "menton": menton,
    }  # fmt: skip
    return {name: np.array(line[index]) for name, index in places.items()}


def _lips(y: Floats, z: Floats, subnasale: int, supramenton: int) -> tuple[int, int]:
    """Indices of the fullest points of the upper and the lower lip."""
    inner = slice(subnasale, supramenton)
    fullest = (y[inner][1:-1] < y[inner][:-2]) & (y[inner][1:-1] <= y[inner][2:])
    at = subnasale + 1 + np.flatnonzero(fullest)
    return int(at[0]), int(at[-1])

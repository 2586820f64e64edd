"""Landmarks of the procedural head, found by their definitions on densely solved patches of the surface.

Definitions: standard anthropometric usage (ISO 7250-1 terms, from memory). Names as in all of Sealwright,
with ``_left`` and ``_right`` for pairs; left is the wearer's, +X.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sealwright.mesh import Floats

from .head_grid import Chart
from .head_warp import Warp

Landmarks = dict[str, Floats]

# Rays through these places of the sculpted head carry the landmarks that no extremum defines sharply.
_AIMED = {
    "cheilion": (25.5, 10.5, -22.0),
    "gonion": (54.0, 80.0, -40.0),
    "tragion": (72.0, 99.0, 24.0),
    "pupil": (31.0, 17.5, 41.0),
    "infraorbitale": (32.0, 19.5, 25.0),
    "endocanthion": (17.0, 19.5, 39.5),
    "exocanthion": (46.5, 30.0, 40.0),
    "frontotemporale": (52.0, 35.0, 78.0),
}
# Rays over these boxes (lowest, highest corner) are searched for the most lateral point.
_WIDEST = {"alare": ((13, -5, -1), (19, 10, 13)), "zygion": ((60, 58, 12), (72, 93, 40))}


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
    """Where rays from the centre through some places (n, 3) leave the surface."""
    x, y, z = (places - chart.star.centre).T
    return chart.points(np.arctan2(np.hypot(x, y), z), np.arctan2(x, -y))


def landmarks_of(probes: Probes, warp: Warp) -> Landmarks:
    """All landmarks of the bent head, mm, in the sculpted head's frame."""
    found = _midline(probes.profile, warp.moved(probes.profile))
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


def _midline(before: Floats, after: Floats) -> Landmarks:
    """Landmarks on the midline: extrema of the bent profile, each sought where the sculpted one has it.

    Parameters
    ----------
    before, after : (n, 3) the profile from crown to neck, sculpted and bent.
    """
    z, y = before[:, 2], after[:, 1]
    rise = after[:, 2]
    below_tip = np.arange(len(z)) > np.argmin(np.where((z > -5) & (z < 25), before[:, 1], np.inf))

    def extreme(score: Floats, low: float, high: float, below: bool) -> Floats:
        within = (z > low) & (z < high) & (below_tip == below)
        return np.array(after[np.argmax(np.where(within, score, -np.inf))])

    chin = before[:, 1] < 45.0  # in front of the throat
    return {
        "glabella": extreme(-y, 58.0, 85.0, False),
        "sellion": extreme(y, 40.0, 62.0, False),
        "pronasale": np.array(after[np.argmin(np.where((z > -5) & (z < 25), y, np.inf))]),
        "subnasale": extreme(y + rise, -9.0, 8.0, True),
        "stomion": extreme(y, -26.5, -18.0, True),
        "supramenton": extreme(y, -48.0, -32.0, True),
        "pogonion": extreme(-y, -64.0, -46.0, True),
        # the lowest point of the chin with the head tilted back by 27 degrees, as the under-chin falls on
        "menton": extreme(np.where(chin, -rise - 0.5 * y, -np.inf), -85.0, -60.0, True),
    }

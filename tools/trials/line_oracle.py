"""Is there a seal line at all? By brute force on a coarse grid of the skin, independent of the search.

A place can carry the line when no missing skin lies within the wider half of the narrowest band, straight
through space, and when it keeps its distance from lips, nostrils and eyes; both with a millimetre to spare,
for the grid is no finer. Skin is missing where nothing was scanned, and at a step from one sheet to another.
There is a line when such places, joined
with their eight neighbours, hold a closed way that goes once round the mouth: on a double cover of the grid,
cut along one ray from the mouth, a place is then joined with its own copy.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import numpy as np
from scipy import ndimage
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Delaunay, cKDTree
from sealwright.face.surface import FaceSurface
from sealwright.mesh import Bools, Floats

from .places import ROOT

EVERY = 2  # pixels from one place of the grid to the next: 1.5 mm
_EYE_MM = 14.0  # from the line to the middle between the corners of an eye
_SPARE_MM = 1.0
_STEP_MM = 3.0  # of the radius from one pixel to the next
_SPECK_PX = 2  # filled holes up to twice as many pixels wide are skin


def least_distances() -> dict[str, float]:
    """Distance in mm from each landmark of either side, straight from the table."""
    rows = json.loads((ROOT / "shared" / "limits.json").read_text())["limits"]
    return {
        r["key"].removeprefix("line_from_"): r["value"] for r in rows if r["key"].startswith("line_from_")
    }


def narrowest_half_mm(width_mm: float, inner_share: float) -> float:
    """The wider half of the narrowest band that is borne, straight from the table."""
    rows = json.loads((ROOT / "shared" / "limits.json").read_text())["limits"]
    borne = {r["key"]: r["value"] for r in rows}
    least = min(width_mm * borne["band_narrowed_share"], borne["band_narrowed_mm"])
    return float(least * max(inner_share, 1.0 - inner_share))


def line_exists(face: FaceSurface, landmarks: Mapping[str, Floats], half_mm: float) -> bool:
    """Whether a closed way round the mouth has room for a band on scanned skin.

    Parameters
    ----------
    face, landmarks : of a prepared scan, face frame, mm.
    half_mm : least width of the band on its wider side.
    """
    can = _usable(face, landmarks, half_mm)
    return bool(can.any()) and _goes_round(can, _cut(face, landmarks))


def _usable(face: FaceSurface, landmarks: Mapping[str, Floats], half_mm: float) -> Bools:
    """Places of the coarse grid that can carry the line."""
    points = face.points[::EVERY, ::EVERY]
    skin = face.measured | (ndimage.binary_closing(face.measured, iterations=_SPECK_PX) & face.known)
    radii = np.where(face.known, face.radii, 0.0)
    step = np.zeros_like(skin)
    step[1:] |= np.abs(np.diff(radii, axis=0)) > _STEP_MM
    step[:, 1:] |= np.abs(np.diff(radii, axis=1)) > _STEP_MM
    missing = face.points[~skin | step]
    can = (skin & ~step)[::EVERY, ::EVERY].copy()
    if len(missing):
        away = cKDTree(missing).query(points.reshape(-1, 3))[0].reshape(can.shape)
        can &= away >= half_mm + _SPARE_MM
    for name, point in landmarks.items():
        least = least_distances().get(name.removesuffix("_left").removesuffix("_right"))
        if least is not None:
            can &= np.linalg.norm(points - point, axis=-1) >= least + _SPARE_MM
    for side in ("left", "right"):
        corners = [landmarks.get(f"{name}_{side}") for name in ("endocanthion", "exocanthion")]
        if corners[0] is not None and corners[1] is not None:
            can &= np.linalg.norm(points - (corners[0] + corners[1]) / 2.0, axis=-1) >= _EYE_MM
    can &= points[..., 2] < landmarks["sellion"][2]
    names = ("pronasale", "subnasale", "alare_left", "alare_right", "cheilion_left", "cheilion_right")
    hull = Delaunay(face.chart.place_of(np.array([landmarks[name] for name in names]))[0])
    places = face.chart.place_of(points.reshape(-1, 3))[0]
    return np.asarray(can & (hull.find_simplex(places) < 0).reshape(can.shape))


def _cut(face: FaceSurface, landmarks: Mapping[str, Floats]) -> tuple[int, int]:
    """Row and column of the coarse grid from which the cut runs up: between nose and lips."""
    pixel = face.chart.pixels_of(face.chart.place_of(np.asarray(landmarks["subnasale"]))[0]) / EVERY
    return int(round(pixel[0])), int(round(pixel[1]))


def _goes_round(can: Bools, cut: tuple[int, int]) -> bool:
    """Whether the places hold a closed way that crosses the cut, up from a place, an odd number of times."""
    height, width = can.shape
    index = np.arange(height * width).reshape(height, width)
    first, second, over = [], [], []
    for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, height - down), slice(max(-right, 0), width - max(right, 0)))
        b = (slice(down, height), slice(max(right, 0), width - max(-right, 0)))
        both = can[a] & can[b]
        rows, columns = np.nonzero(both)
        rows, columns = rows + a[0].start, columns + a[1].start
        low, high = np.minimum(columns, columns + right), np.maximum(columns, columns + right)
        first.append(index[rows, columns])
        second.append(index[rows + down, columns + right])
        over.append((low < cut[1]) & (high >= cut[1]) & (np.maximum(rows, rows + down) > cut[0]))
    one, two, crosses = np.concatenate(first), np.concatenate(second), np.concatenate(over)
    count = height * width
    rows = np.concatenate([one, one + count])
    columns = np.concatenate([two + count * crosses, two + count * ~crosses])
    graph = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(2 * count, 2 * count))
    _, label = connected_components(graph, directed=False)
    return bool((can.ravel() & (label[:count] == label[count:])).any())

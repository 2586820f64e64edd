"""The skin between the pixels: where the scan bends more than the image of radii can follow, it is split.

Chords of 0.75 mm cut up to 0.4 mm off skin that is seen at a slant, as beside the nose wings. Squares of the
image that lie further from the scan than a tolerance are split into 4 x 4; their neighbours take the new
corners into a fan, so that the sheet stays closed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..mesh import Bools, Floats, Ints
from .chart import RadialChart
from .rasterise import ScanOnChart
from .surface import FaceSurface, sheet_faces

SPLIT = 4
"""Parts of a square's side: chord errors shrink 4-fold at a kink, 16-fold on smooth skin."""

_TOLERANCE_MM = 0.02  # square to the skin, beyond the bound of the smoothing
_BRINK = 3.0  # slope along the ray beyond which a step may be a brink
_ALONE = 1.8  # and how many times it must exceed the steps before and after it


@dataclass(frozen=True, eq=False)
class FineSheet:
    """A sheet of squares, some of them split.

    Attributes
    ----------
    points : (n, 3) mm, those of whole pixels first, in the order of their pixels.
    faces : (m, 3) outward.
    pixels : (k,) bool image of the pixels that are corners, (h, w); the first points.
    """

    points: Floats
    faces: NDArray[np.int32]
    pixels: Bools


def fine_sheet(face: FaceSurface, radii: Floats, squares: Bools, touched: Bools) -> FineSheet:
    """The sheet over some squares of the image, split where the scan asks for it.

    Parameters
    ----------
    face : the face surface; without its scan (``face.skin``) nothing is split.
    radii : (h, w) mm, the skin, known everywhere.
    squares : (h - 1, w - 1) pixel squares to cover.
    touched : those of them that may be split; squares at the border of all are never.
    """
    chart = _fine_chart(face.chart)
    split, fine = np.zeros_like(squares), np.zeros((0, 0))
    if face.skin is not None:
        scan = ScanOnChart(face.skin, chart, face.furthest_mm)
        inner = touched & ndimage.binary_erosion(squares, np.ones((3, 3), dtype=bool))
        middles = _lattice(inner, SPLIT // 2)
        split = inner & _rough(_seen(face, scan, radii, middles), radii, face.chart.pitch_rad)
        fine = _over_brinks(_seen(face, scan, radii, _lattice(split, 1)), chart.pitch_rad)
    used, faces = _triangles(squares, split)
    coarse = np.zeros_like(used)
    coarse[::SPLIT, ::SPLIT] = used[::SPLIT, ::SPLIT]
    order = np.concatenate([np.flatnonzero(coarse), np.flatnonzero(used & ~coarse)])
    rank = np.full(used.size, -1, dtype=np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    row, column = np.divmod(order, chart.side)
    arm = chart.direction_at((np.stack([column, row], axis=1) - chart.half) * chart.pitch_rad)
    value = _interpolated(radii, row, column)
    if face.skin is not None:
        exact = fine.ravel()[order]
        value = np.where(np.isfinite(exact), exact, value)
    pixels = used[::SPLIT, ::SPLIT].copy()
    return FineSheet(chart.centre + arm * value[:, None], rank[faces], pixels)


def _fine_chart(chart: RadialChart) -> RadialChart:
    return replace(chart, pitch_rad=chart.pitch_rad / SPLIT, half=chart.half * SPLIT)


def _interpolated(radii: Floats, row: NDArray[np.int64], column: NDArray[np.int64]) -> Floats:
    """Bilinear radii (n,) at places of the fine lattice."""
    place = np.stack([row / SPLIT, column / SPLIT])
    return np.asarray(ndimage.map_coordinates(radii, place, order=1, mode="nearest"))


def _lattice(squares: Bools, step: int) -> Bools:
    """Places of the fine lattice in some squares and on their borders, every ``step``-th of them."""
    side = squares.shape[0] * SPLIT + 1
    inside = np.repeat(np.repeat(squares, SPLIT, axis=0), SPLIT, axis=1)
    places = np.zeros((side, side), dtype=bool)
    for rows in (slice(0, -1), slice(1, None)):
        for columns in (slice(0, -1), slice(1, None)):
            places[rows, columns] |= inside
    kept = np.zeros_like(places)
    kept[::step, ::step] = places[::step, ::step]
    return kept


def _seen(face: FaceSurface, scan: ScanOnChart, radii: Floats, places: Bools) -> Floats:
    """Radii (fine side, fine side) at some places of the fine lattice, mm; NaN elsewhere.

    The image is kept where it lies within the bound of the smoothing from the scan, and else moved to that
    bound. Where the scan has no skin, the image is kept.
    """
    row, column = np.nonzero(places)
    skin = _interpolated(radii, row, column)
    raw = scan.radii(places)[places]
    bound = face.smoothing.bound_mm
    out = np.full(places.shape, np.nan)
    out[places] = np.where(np.isfinite(raw), np.clip(skin, raw - bound, raw + bound), skin)
    return out


def _over_brinks(fine: Floats, pitch_rad: float) -> Floats:
    """The fine skin with the foot of every brink raised to its top.

    Where skin overhangs, as a nose wing does, the image falls from one layer to another between two rays.
    Somewhere in between is the brink; taking the far ray for it keeps the body out of the skin. Steep skin
    goes on falling before or after and is left as it is.
    """
    out = fine.copy()
    flat, raised = fine.ravel(), out.ravel()
    known = np.flatnonzero(np.isfinite(flat))
    known = known[(known > 2 * fine.shape[1]) & (known < fine.size - 3 * fine.shape[1])]
    for stride in (1, fine.shape[1]):
        start = known[np.isfinite(flat[known + stride])]
        step = flat[start + stride] - flat[start]
        size = np.full(fine.size, np.inf)
        size[start] = np.abs(step)
        beside = np.maximum(size[start - stride], size[start + stride])
        brink = (size[start] > _BRINK * pitch_rad * flat[start + stride]) & (size[start] > _ALONE * beside)
        low = np.where(step < 0, start + stride, start)[brink]
        high = np.where(step < 0, start, start + stride)[brink]
        np.maximum.at(raised, low, flat[high])
    return out


def _rough(fine: Floats, radii: Floats, pitch_rad: float) -> Bools:
    """Squares (h - 1, w - 1) where fine and coarse skin differ by more than allowed."""
    row, column = np.nonzero(np.isfinite(fine))
    off = np.zeros(fine.shape)
    off[row, column] = np.abs(fine[row, column] - _interpolated(radii, row, column))
    largest = ndimage.maximum_filter(off, size=SPLIT + 1)[SPLIT // 2 :: SPLIT, SPLIT // 2 :: SPLIT]
    a, b, c, d = radii[:-1, :-1], radii[:-1, 1:], radii[1:, 1:], radii[1:, :-1]
    slope = np.hypot(c - a, d - b) / (np.sqrt(2.0) * pitch_rad * (a + b + c + d) / 4)
    return np.asarray(largest > _TOLERANCE_MM * np.sqrt(1.0 + slope**2))


def _triangles(squares: Bools, split: Bools) -> tuple[Bools, Ints]:
    """Used places of the fine lattice, and triangles (m, 3) as flat indices of it."""
    side = squares.shape[0] * SPLIT + 1
    index = np.arange(side * side, dtype=np.int32).reshape(side, side)
    parts = np.repeat(np.repeat(split, SPLIT, axis=0), SPLIT, axis=1)
    padded = np.pad(split, 1)
    beside = padded[:-2, 1:-1] | padded[2:, 1:-1] | padded[1:-1, :-2] | padded[1:-1, 2:]
    fan = squares & ~split & beside
    plain = sheet_faces(index[::SPLIT, ::SPLIT], squares & ~split & ~fan)
    faces = np.vstack([plain, sheet_faces(index, parts), _fans(index, fan, padded)])
    used = np.zeros(side * side, dtype=bool)
    used[faces.ravel()] = True
    return used.reshape(side, side), faces


def _fans(index: NDArray[np.int32], fan: Bools, padded: Bools) -> NDArray[np.int32]:
    """Triangles of whole squares next to split ones: from their middle to each piece of their four sides."""
    row, column = np.nonzero(fan)
    low, left = row * SPLIT, column * SPLIT
    middle = index[low + SPLIT // 2, left + SPLIT // 2]
    # Start corner, step along the side, and the neighbour across it, once round.
    sides = [
        (0, 0, 0, 1, padded[row, column + 1]),
        (0, SPLIT, 1, 0, padded[row + 1, column + 2]),
        (SPLIT, SPLIT, 0, -1, padded[row + 2, column + 1]),
        (SPLIT, 0, -1, 0, padded[row + 1, column]),
    ]
    out = []
    for down, right, step_down, step_right, fine in sides:
        for pieces, chosen in ((1, ~fine), (SPLIT, fine)):
            for piece in range(pieces):
                start, stop = piece * SPLIT // pieces, (piece + 1) * SPLIT // pieces
                a = index[low + down + start * step_down, left + right + start * step_right]
                b = index[low + down + stop * step_down, left + right + stop * step_right]
                out.append(np.stack([a, b, middle], axis=1)[chosen])
    return np.vstack(out).astype(np.int32)

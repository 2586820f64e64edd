"""The skin between the pixels: where the scan bends more than the image of radii can follow, it is split.

Chords of 0.75 mm cut up to 0.4 mm off skin that is seen at a slant, as beside the nose wings. Squares of the
image that lie further from the scan than a tolerance are split into 2 x 2 or 4 x 4; where the skin is flat,
up to 4 x 4 of them are merged, because every triangle costs time in each boolean.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..mesh import Bools, Floats
from .chart import RadialChart
from .quadtree import Leaves, flat_leaves, leaves_of, triangulated
from .surface import FaceSurface

SPLIT = 4
"""Parts of a square's side: chord errors shrink 4-fold at a kink, 16-fold on smooth skin."""

_TOLERANCE_MM = 0.02  # square to the skin, beyond the bound of the smoothing
_HALF = 2  # the lattice on which whole squares are judged: corners, and the middles between them
_MERGED_MM = 0.015  # stricter, so that the borders of large squares do not show
_AWAY_MM = 0.05  # where the body does not touch
_DISCONTINUITY = 3.0  # slope along the ray beyond which a step may be a depth discontinuity
_ALONE = 1.8  # and how many times it must exceed the steps before and after it


@dataclass(frozen=True, eq=False)
class FineSheet:
    """A sheet of squares of several sizes.

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
    """The sheet over some squares of the image: split where the scan asks for it, merged where it is flat.

    Parameters
    ----------
    face : the face surface; without its scan nothing is split.
    radii : (h, w) mm, the skin, known everywhere.
    squares : (h - 1, w - 1) pixel squares to cover.
    touched : those of them that may be split; squares at the border of all are neither split nor merged.
    """
    chart = _finer(face.chart, SPLIT)
    inner = squares & ndimage.binary_erosion(squares, np.ones((3, 3), dtype=bool))
    steep = _steepness(radii, face.chart.pitch_rad)
    bow = radii[:-1, :-1] * face.chart.pitch_rad**2 / 4.0
    skin, split, fine, parts = _doubled(radii), np.zeros_like(squares), None, []
    if face.scan is not None:
        skin = _seen(face, radii, _HALF, inner & touched, skin)
        limit = _TOLERANCE_MM * steep
        split = _too_coarse(skin, inner & touched, bow, limit)
        fine = _over_discontinuities(_seen(face, radii, SPLIT, split), chart.pitch_rad)
        parts = _parts(split, fine, bow, limit)
    limit = np.where(touched, _MERGED_MM, _AWAY_MM) * steep
    blocks = _blocks(skin, bow, np.where(inner & ~split, limit, -1.0), face.chart.half)
    single = leaves_of(squares & ~split & ~_inside(blocks, squares.shape), 1)
    whole = [some.times(SPLIT) for some in (*blocks, single)]
    used, faces = triangulated(chart.side, [*whole, *parts])
    coarse = np.zeros_like(used)
    coarse[::SPLIT, ::SPLIT] = used[::SPLIT, ::SPLIT]
    order = np.concatenate([np.flatnonzero(coarse), np.flatnonzero(used & ~coarse)])
    rank = np.full(used.size, -1, dtype=np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    row, column = np.divmod(order, chart.side)
    arm = chart.direction_at((np.stack([column, row], axis=1) - chart.half) * chart.pitch_rad)
    value = _interpolated(radii, row, column, SPLIT)
    if fine is not None:
        exact = fine.ravel()[order]
        value = np.where(np.isfinite(exact), exact, value)
    pixels = used[::SPLIT, ::SPLIT].copy()
    return FineSheet(chart.centre + arm * value[:, None], rank[faces], pixels)


def _too_coarse(skin: Floats, squares: Bools, bow: Floats, limit: Floats) -> Bools:
    """Those of some squares (h - 1, w - 1) whose corners alone do not follow the skin within the limit."""
    some = leaves_of(squares, 1)
    flat = flat_leaves(skin, some.times(_HALF), bow[squares], limit[squares])
    out = np.zeros_like(squares)
    out[some.row[~flat], some.column[~flat]] = True
    return out


def _blocks(skin: Floats, bow: Floats, limit: Floats, half: int) -> list[Leaves]:
    """Flat blocks of 4 x 4 pixel squares, and of 2 x 2 between them, that meet at the middle column.

    ``skin`` has a place on every pixel and between any two; ``limit`` is negative where none may lie.
    """
    chosen: list[Leaves] = []
    for span in (4, 2):
        first = half % span
        free = np.where(_inside(chosen, limit.shape), -1.0, limit)
        count = (len(limit) - first) // span
        part = free[first : first + count * span, first : first + count * span]
        least = part.reshape(count, span, count, span).min(axis=(1, 3))
        row, column = np.nonzero(least >= 0.0)
        some = Leaves(span, first + row * span, first + column * span)
        bows = span**2 * bow[some.row, some.column]
        chosen.append(some.where(flat_leaves(skin, some.times(_HALF), bows, least[row, column])))
    return chosen


def _inside(blocks: Sequence[Leaves], shape: tuple[int, ...]) -> Bools:
    """Pixel squares (h - 1, w - 1) that lie in blocks."""
    inside = np.zeros(shape, dtype=bool)
    for some in blocks:
        for down in range(some.size):
            for right in range(some.size):
                inside[some.row + down, some.column + right] = True
    return inside


def _parts(split: Bools, fine: Floats, bow: Floats, limit: Floats) -> list[Leaves]:
    """Split squares in halves of their sides, and in quarters where halves are too coarse."""
    halves = leaves_of(np.repeat(np.repeat(split, 2, axis=0), 2, axis=1), SPLIT // 2)
    row, column = halves.row // SPLIT, halves.column // SPLIT
    flat = flat_leaves(fine, halves, bow[row, column] / 4.0, limit[row, column])
    rest = halves.where(~flat)
    quarters = [Leaves(1, rest.row + down, rest.column + right) for down in (0, 1) for right in (0, 1)]
    return [halves.where(flat), *quarters]


def _doubled(radii: Floats) -> Floats:
    """The image (h, w) with the mean of its neighbours between any two pixels (2 h - 1, 2 w - 1)."""
    out = np.empty((2 * radii.shape[0] - 1, 2 * radii.shape[1] - 1))
    out[::2, ::2] = radii
    out[1::2, ::2] = (radii[:-1] + radii[1:]) / 2.0
    out[:, 1::2] = (out[:, :-1:2] + out[:, 2::2]) / 2.0
    return out


def _corners_of(squares: Bools) -> Bools:
    """Pixels (h, w) at the corners of squares (h - 1, w - 1)."""
    padded = np.pad(squares, 1)
    return np.asarray(padded[:-1, :-1] | padded[1:, :-1] | padded[:-1, 1:] | padded[1:, 1:])


def _finer(chart: RadialChart, times: int) -> RadialChart:
    return replace(chart, pitch_rad=chart.pitch_rad / times, half=chart.half * times)


def _interpolated(radii: Floats, row: NDArray[np.int64], column: NDArray[np.int64], times: int) -> Floats:
    """Bilinear radii (n,) at places of a lattice that is ``times`` as fine."""
    place = np.stack([row / times, column / times])
    return np.asarray(ndimage.map_coordinates(radii, place, order=1, mode="nearest"))


def _seen(
    face: FaceSurface, radii: Floats, times: int, squares: Bools, elsewhere: Floats | None = None
) -> Floats:
    """Radii (fine side, fine side) in some squares on a lattice ``times`` as fine, mm.

    The image is kept where it lies within the bound of the smoothing from the scan, and else moved to that
    bound. Where the scan has no skin, the image is kept. In squares with a guessed corner it is never
    lowered: where the torn edge of a hole hangs in, the body would enter the guessed skin. Outside the
    squares stands what is given, or NaN.
    """
    side = squares.shape[0] * times + 1
    out = np.full((side, side), np.nan) if elsewhere is None else elsewhere.copy()
    if face.scan is None or not squares.any():
        return out
    places = np.zeros((side, side), dtype=bool)
    inside = np.repeat(np.repeat(squares, times, axis=0), times, axis=1)
    for rows in (slice(0, -1), slice(1, None)):
        for columns in (slice(0, -1), slice(1, None)):
            places[rows, columns] |= inside
    row, column = np.nonzero(places)
    skin = _interpolated(radii, row, column, times)
    raw = face.scan.finer(times, _corners_of(squares)).radii(places)[places]
    bound = face.smoothing.bound_mm
    out[places] = np.where(np.isfinite(raw), np.clip(skin, raw - bound, raw + bound), skin)
    guess = _places_in(face.guessed_squares, times)
    guess = guess[places.ravel()[guess]]
    out.ravel()[guess] = np.maximum(out.ravel()[guess], _interpolated(radii, *np.divmod(guess, side), times))
    return out


def _places_in(squares: Bools, times: int) -> NDArray[np.int64]:
    """Flat places (n,), some twice, of a lattice ``times`` as fine in squares (h - 1, w - 1)."""
    row, column = np.nonzero(squares)
    side, step = squares.shape[1] * times + 1, np.arange(times + 1)
    inside = (step[:, None] * side + step).ravel()
    return np.asarray(((row * side + column) * times)[:, None] + inside).ravel()


def _over_discontinuities(fine: Floats, pitch_rad: float) -> Floats:
    """The fine skin with the foot of every depth discontinuity raised to its top.

    Where skin overhangs, as a nose wing does, the image falls from one layer to another between two rays.
    Somewhere in between is the edge; taking the far ray for it keeps the body out of the skin. Steep skin
    goes on falling before or after and is left as it is. A slanted one may show along a diagonal only; it
    lies between the four rays there, and the foot is raised half the way.
    """
    out = fine.copy()
    flat, raised = fine.ravel(), out.ravel()
    known = np.flatnonzero(np.isfinite(flat))
    known = known[(known > 2 * fine.shape[1]) & (known < fine.size - 3 * fine.shape[1])]
    row = fine.shape[1]
    slanted = math.sqrt(2.0)
    for stride, steps, share in (1, 1, 1.0), (row, 1, 1.0), (row + 1, slanted, 0.5), (row - 1, slanted, 0.5):
        start = known[np.isfinite(flat[known + stride])]
        step = flat[start + stride] - flat[start]
        size = np.full(fine.size, np.inf)
        size[start] = np.abs(step)
        beside = np.maximum(size[start - stride], size[start + stride])
        steep = size[start] > _DISCONTINUITY * steps * pitch_rad * flat[start + stride]
        jump = steep & (size[start] > _ALONE * beside)
        low = np.where(step < 0, start + stride, start)[jump]
        high = np.where(step < 0, start, start + stride)[jump]
        np.maximum.at(raised, low, flat[low] + share * (flat[high] - flat[low]))
    return out


def _steepness(radii: Floats, pitch_rad: float) -> Floats:
    """Distance along the ray per distance square to the skin, for every pixel square (h - 1, w - 1)."""
    a, b, c, d = radii[:-1, :-1], radii[:-1, 1:], radii[1:, 1:], radii[1:, :-1]
    slope = np.hypot(c - a, d - b) / (np.sqrt(2.0) * pitch_rad * (a + b + c + d) / 4)
    return np.asarray(np.sqrt(1.0 + slope**2))

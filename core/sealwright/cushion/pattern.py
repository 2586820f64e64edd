"""The cut pattern of a foam strip: the hard band's face laid flat in as few pieces as the stretch allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..facepiece.closed_curve import crossings
from ..mesh import Floats
from ..solids.polygon import polygon_area
from .band_face import BandFace, between_rows, grid_triangles, triangle_areas
from .flatten import edge_stretch, flattened

LEAST_PIECES, MOST_PIECES = 2, 4
_STRETCH = 0.03  # 95 % of the lengths stay within this; foam takes several times as much without buckling
_STEP_MM = 12.0  # by which the two halves of a joint lie apart along the seal line
_TAPE_INSET_MM = 1.0  # the adhesive stays this far inside the edges, so that none meets the skin
_FREE_MM = 22.0  # no joint nearer to the top and bottom of the line: nose bridge and chin seal hardest
_LOOK_MM = 8.0  # over which the bend of the band is looked at where a joint may lie


@dataclass(frozen=True, eq=False)
class PatternPiece:
    """One piece laid flat, mm, as seen from the skin side.

    Attributes
    ----------
    name : as it is written on it and, at its place, in the steps.
    outline : (m, 2) closed, where the foam is cut.
    tape : (m, 2) closed, where the adhesive ends.
    line : (m, 2) open, the seal line.
    ends : names of the joints at its start and its end.
    area_mm2, space_area_mm2 : of the outline, and of the same on the hard band.
    length_mm, space_length_mm : of the seal line on it, and on the hard band.
    stretch : ratios of lengths in the plane to those on the band, all edges of the grid.
    """

    name: str
    outline: Floats
    tape: Floats
    line: Floats
    ends: tuple[str, str]
    area_mm2: float
    space_area_mm2: float
    length_mm: float
    space_length_mm: float
    stretch: Floats


@dataclass(frozen=True, eq=False)
class Pattern:
    """All pieces of a foam strip.

    Attributes
    ----------
    pieces : in the order of the seal line.
    width_mm : of the band.
    """

    pieces: tuple[PatternPiece, ...]
    width_mm: float

    @property
    def area_mm2(self) -> float:
        """Area of the foam."""
        return sum(piece.area_mm2 for piece in self.pieces)

    @property
    def space_area_mm2(self) -> float:
        """Area of the hard band's face under it."""
        return sum(piece.space_area_mm2 for piece in self.pieces)

    @property
    def length_mm(self) -> float:
        """Length of the seal line on the pieces."""
        return sum(piece.length_mm for piece in self.pieces)

    @property
    def space_length_mm(self) -> float:
        """Length of the seal line on the hard band."""
        return sum(piece.space_length_mm for piece in self.pieces)

    @property
    def stretch_p95(self) -> float:
        """95 % of the lengths change by less than this share when the pieces are bent onto the band."""
        return float(np.quantile(np.abs(self._stretch - 1.0), 0.95))

    @property
    def stretch_max(self) -> float:
        """The largest change of a length, as a share."""
        return float(np.abs(self._stretch - 1.0).max())

    @property
    def _stretch(self) -> Floats:
        return np.concatenate([piece.stretch for piece in self.pieces])


def foam_pattern(face: BandFace) -> Pattern:
    """The pattern of a foam strip, in two pieces or as many more as keep the stretch small, at most four.

    Parameters
    ----------
    face : the face of the hard band, on the finished body.
    """
    best: Pattern | None = None
    for count in range(LEAST_PIECES, MOST_PIECES + 1):
        pattern = _in_pieces(face, _joints(face, count))
        if best is None or pattern.stretch_p95 < best.stretch_p95:
            best = pattern
        if pattern.stretch_p95 <= _STRETCH and not any(crossings(p.outline).any() for p in pattern.pieces):
            return pattern
    if best is None:
        raise AssertionError("No number of pieces was tried.")
    return best


def _joints(face: BandFace, count: int) -> Floats:
    """Stations (count,) of the joints: evenly apart, turned to where the band bends least."""
    line, normals = face.line, between_rows(face.normals, face.across_mm, 0.0)
    length = np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1)
    way = np.concatenate([[0.0], np.cumsum(length)])
    total, stations = way[-1], len(line)
    reach = max(int(round(_LOOK_MM / (total / stations))), 1)
    apart = (np.roll(normals, -reach, axis=0) * np.roll(normals, reach, axis=0)).sum(axis=1)
    bend = np.arccos(np.clip(apart, -1.0, 1.0))
    for end in (int(np.argmax(line[:, 2])), int(np.argmin(line[:, 2]))):
        off = np.abs(way[:-1] - way[end])
        bend = bend + 3.0 * (np.minimum(off, total - off) < _FREE_MM)
    tried = np.arange(0.0, total / count, 2.0)
    places = (tried[:, None] + np.arange(count) * total / count) % total
    at = np.interp(places, way, np.arange(stations + 1))
    cost = bend[np.rint(at).astype(np.int64) % stations].max(axis=1)
    return np.asarray(at[int(np.argmin(cost))])


def _in_pieces(face: BandFace, joints: Floats) -> Pattern:
    joints = np.sort(joints)
    ends = np.concatenate([joints, joints[:1] + len(face.grid)])
    letters = [chr(ord("A") + i) for i in range(len(joints))]
    pieces = [
        _piece(face, f"{i + 1}", (ends[i], ends[i + 1]), (letters[i], letters[(i + 1) % len(joints)]))
        for i in range(len(joints))
    ]
    return Pattern(tuple(pieces), float(face.across_mm[0] - face.across_mm[-1]))


def _piece(face: BandFace, name: str, between: tuple[float, float], ends: tuple[str, str]) -> PatternPiece:
    """The strip between two stepped joints, laid flat."""
    step = 0.5 * _STEP_MM / (face.length_mm / len(face.grid))
    first, last = int(np.floor(between[0] - step)) - 1, int(np.ceil(between[1] + step)) + 1
    stations = np.arange(first, last + 1)
    grid, normals = face.grid[stations % len(face.grid)], face.normals[stations % len(face.grid)]
    flat = flattened(grid, face.across_mm, normals)
    cells = _cell_areas(grid)
    flat = _upright(flat * np.sqrt(cells.sum() / _cell_areas(flat).sum()))
    cut = _Cut((between[0] - first, between[1] - first), step, int(len(face.across_mm) // 2))
    outline = cut.outline(flat, face.across_mm)
    line, space_line = (cut.seal_line(g, face.across_mm) for g in (flat, grid))
    used = slice(int(cut.between[0] - step), int(np.ceil(cut.between[1] + step)) + 1)
    return PatternPiece(
        name=name,
        outline=outline - outline.min(axis=0),
        tape=cut.outline(flat, face.across_mm, _TAPE_INSET_MM) - outline.min(axis=0),
        line=line - outline.min(axis=0),
        ends=ends,
        area_mm2=abs(polygon_area(outline)),
        space_area_mm2=cut.area(cells),
        length_mm=_length(line),
        space_length_mm=_length(space_line),
        stretch=edge_stretch(grid[used], flat[used]),
    )


@dataclass(frozen=True)
class _Cut:
    """Where a piece is cut from a strip: joints with a step at one of its rows.

    Attributes
    ----------
    between : stations of the middles of its two joints.
    step : stations by which the outer half lies later than the middle, and the inner half earlier.
    row : at which the joints step.
    """

    between: tuple[float, float]
    step: float
    row: int

    def outline(self, grid: Floats, across_mm: Floats, inset_mm: float = 0.0) -> Floats:
        """The cut (m, d) on a strip (n, k, d), closed, once round; ``inset_mm`` nearer to the middle."""
        spacing = float(np.linalg.norm(np.diff(grid.mean(axis=1), axis=0), axis=1).mean())
        end = inset_mm / spacing
        outer, inner = across_mm[0] - inset_mm, across_mm[-1] + inset_mm
        amid = across_mm[self.row]
        start, stop = self.between[0] + end, self.between[1] - end
        one = (start + self.step, stop + self.step)
        two = (start - self.step, stop - self.step)
        # The halves meet at the step, where the inset keeps to both sides of the cut of a joint.
        path = [_row_path(one[0], one[1], outer), _end_path(one[1], outer, amid + inset_mm, across_mm)]
        path += [_row_path(one[1], two[1], amid + inset_mm), _end_path(two[1], amid, inner, across_mm)]
        path += [_row_path(two[1], two[0], inner), _end_path(two[0], inner, amid - inset_mm, across_mm)]
        path += [_row_path(two[0], one[0], amid - inset_mm), _end_path(one[0], amid, outer, across_mm)]
        places = np.concatenate(path)
        apart = np.linalg.norm(np.diff(places, axis=0, append=places[:1]), axis=1)
        return _on_strip(grid, across_mm, places[apart > 1e-9])

    def seal_line(self, grid: Floats, across_mm: Floats) -> Floats:
        """The seal line (m, d) between the joints on a strip."""
        shift = self.step if across_mm[self.row] < 0.0 else -self.step
        places = _row_path(self.between[0] + shift, self.between[1] + shift, 0.0)
        return _on_strip(grid, across_mm, places)

    def area(self, cells: Floats) -> float:
        """Area between the joints, from the areas (n - 1, k - 1) of the strip's cells."""
        total = 0.0
        for half, shift in ((cells[:, : self.row], self.step), (cells[:, self.row :], -self.step)):
            way = np.concatenate([[0.0], np.cumsum(half.sum(axis=1))])
            low, high = (np.interp(at + shift, np.arange(len(way)), way) for at in self.between)
            total += float(high - low)
        return total


def _row_path(start: float, stop: float, across: float) -> Floats:
    """Places (m, 2), station and distance from the seal line, along the line: every whole station between."""
    low, high = min(start, stop), max(start, stop)
    at = np.concatenate([[low], np.arange(np.floor(low) + 1.0, high), [high]])
    return np.stack([at if start <= stop else at[::-1], np.full(len(at), across)], axis=1)


def _end_path(station: float, start: float, stop: float, across_mm: Floats) -> Floats:
    """Places (m, 2) across the strip at one station: every row between two distances from the seal line."""
    low, high = min(start, stop), max(start, stop)
    rows = np.sort(across_mm[(across_mm > low) & (across_mm < high)])
    at = np.concatenate([[low], rows, [high]])
    return np.stack([np.full(len(at), station), at if start <= stop else at[::-1]], axis=1)


def _on_strip(grid: Floats, across_mm: Floats, places: Floats) -> Floats:
    """Points (m, d) of a strip (n, k, d) at places (m, 2), straight between stations and rows."""
    rising = across_mm[::-1]
    row = len(rising) - 1 - np.interp(places[:, 1], rising, np.arange(len(rising)))
    i = np.clip(np.floor(places[:, 0]).astype(np.int64), 0, grid.shape[0] - 2)
    j = np.clip(np.floor(row).astype(np.int64), 0, grid.shape[1] - 2)
    u, v = (places[:, 0] - i)[:, None], (row - j)[:, None]
    one = (1 - u) * grid[i, j] + u * grid[i + 1, j]
    two = (1 - u) * grid[i, j + 1] + u * grid[i + 1, j + 1]
    return np.asarray((1 - v) * one + v * two)


def _cell_areas(grid: Floats) -> Floats:
    """Areas (n - 1, k - 1) of the cells of a grid (n, k, 2) or (n, k, 3), mm2."""
    areas = triangle_areas(grid.reshape(-1, grid.shape[2]), grid_triangles(*grid.shape[:2]))
    return np.asarray(areas.reshape(2, grid.shape[0] - 1, grid.shape[1] - 1).sum(axis=0))


def _upright(flat: Floats) -> Floats:
    """A flat grid turned so that its longest way lies level, with its lowest corner at the origin."""
    points = flat.reshape(-1, 2) - flat.reshape(-1, 2).mean(axis=0)
    turns = np.radians(np.arange(0.0, 180.0, 2.0))
    heights = [np.ptp(points @ (-np.sin(t), np.cos(t))) for t in turns]
    t = turns[int(np.argmin(heights))]
    turned = points @ np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
    return np.asarray((turned - turned.min(axis=0)).reshape(flat.shape))


def _length(line: Floats) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())

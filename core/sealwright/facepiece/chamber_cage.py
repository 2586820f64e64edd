"""The outer form of the chamber as a coarse cage that a hand may shape, and the wall that follows from it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import CubicSpline

from ..errors import DoesNotFit, TooNear, Where, plain_point
from ..mesh import Floats, Ints, TriMesh
from .chamber_wall import ChamberWall, Throat, round_the_bore, throat_ring
from .clearance_field import ClearanceField
from .contact_band import ContactBand, grid_normals
from .fairing import fair_sheet
from .shell import grid_quads

STATIONS, ROWS = 24, 8
"""Quads of a cage round the mouth, and from band to port."""

FITS_MM = 0.7
"""The wall of a cage that nobody changed lies so near to the wall it was taken from, 95 % within 0.4 mm."""

_MOST_PUSHED_MM = 6.0  # a cage further inside the clearance than that is not meant
_FOLLOWED_MM = 0.4  # the wall is the sheet of least bending that lies so near to the cage's
_FACING = 1e-9
_OPEN_ROWS = 3  # rows beside band and port that a surface may leave open: it goes on there as it ends


@dataclass(frozen=True)
class Cage:
    """A coarse cage of the chamber's outer side.

    Attributes
    ----------
    points : (s, r, 3) mm, face frame: stations round the seal line in its order, rows from band to port. The
        first and the last row show where band and port are; the wall follows these themselves.
    out : (s, r, 3) unit directions from the chamber side to them, as they were before a hand moved them.
        The wall's thickness does not depend on them, only by a little where its outer side lies.
    """

    points: Floats
    out: Floats

    @property
    def quads(self) -> Ints:
        """Quads (s * (r - 1), 4) of the points, station by station, counter-clockwise from outside."""
        return np.asarray(grid_quads(*self.points.shape[:2])[:, ::-1], dtype=np.int32)


@dataclass(frozen=True)
class OuterForm:
    """A cage and the thickness of the wall behind it, mm."""

    cage: Cage
    wall_mm: float


def cage_of(wall: ChamberWall, wall_mm: float, rows: int = ROWS) -> Cage:
    """The cage of a wall.

    Parameters
    ----------
    wall : of a design.
    wall_mm : its thickness; the cage lies on its outer side.
    rows : quads from band to port.
    """
    stations = np.round(np.arange(STATIONS) * len(wall.grid) / STATIONS).astype(int)
    picked = np.round(np.linspace(1, wall.grid.shape[1] - 1, rows + 1)).astype(int)
    out = grid_normals(wall.grid)[stations][:, picked]
    return Cage(wall.grid[stations][:, picked] + wall_mm * out, out)


def wall_from_cage(
    form: OuterForm, band: ContactBand, throat: Throat, field: ClearanceField, row_mm: float
) -> ChamberWall:
    """The chamber wall whose outer side runs smoothly through a cage.

    A cubic spline runs through the cage along the stations, closed, and along the rows, where it leaves the
    band as its fillet does and ends in the throat. The wall is the sheet of least bending near that.

    Parameters
    ----------
    form : the cage; its first and last row are not used.
    band, throat : where the wall begins and ends.
    field : where it may be; what lies in the clearance is pushed out along the rays, see `pushed_mm`.
    row_mm : wanted distance between rows.

    Raises
    ------
    TooNear : the cage lies deep in the clearance.
    """
    grid = _inner_side(form, band, throat, row_mm)
    lacking = np.maximum(field.shortfall(grid), 0.0)
    lacking[:, :2] = lacking[:, -1:] = 0.0
    worst = np.unravel_index(int(np.argmax(lacking)), lacking.shape)
    if lacking[worst] > _MOST_PUSHED_MM:
        raise TooNear(
            f"The cage lies {lacking[worst]:.1f} mm inside the clearance of {field.clearance_mm:g} mm to "
            "the skin.",
            Where("chamber cage", point=plain_point(grid[worst]), key="recipe.chamber.clearance_mm"),
            "Move it out there, or ask less clearance.",
        )

    def near(points: Floats) -> Floats:
        """Points moved as near to the cage's sheet as it is followed, then out of clearance and bore."""
        off = points - grid
        away = np.maximum(np.linalg.norm(off, axis=-1, keepdims=True), _FOLLOWED_MM)
        allowed = field.push_out(grid + off * (_FOLLOWED_MM / away))
        return round_the_bore(allowed, throat.frame, throat.radius_mm)

    sheet = fair_sheet(grid, 2, 1, near)
    return ChamberWall(sheet.grid, sheet, float(lacking.max()), plain_point(grid[worst]))


def cage_on(mesh: TriMesh, like: Cage, centre: Floats) -> Cage:
    """The cage of a surface that a maker modelled round nose and mouth.

    Parameters
    ----------
    mesh : open at band and port, face frame, mm; as smooth as it shall be. It need not reach either quite.
    like : the program's own cage, whose rays from the centre are followed.
    centre : (3,) see `ClearanceField.centre`.

    Raises
    ------
    DoesNotFit : a ray meets it not at all, or several times: it is not star-shaped.
    """
    inner = like.points[:, 1:-1]
    away = np.linalg.norm(inner - centre, axis=-1)
    share = np.full(away.shape, np.nan)
    for at in np.ndindex(away.shape):
        found = _hits(mesh, centre, (inner[at] - centre) / away[at])
        if len(found) > 1:
            raise _not_star_shaped(f"lies {len(found)} times before", inner[at])
        share[at] = found[0] / away[at] if len(found) else np.nan
    for station, shares in enumerate(share):
        there = np.flatnonzero(np.isfinite(shares))
        ends = len(there) and there[0] <= _OPEN_ROWS and len(shares) - 1 - there[-1] <= _OPEN_ROWS
        if not ends or len(there) != there[-1] - there[0] + 1:
            missing = np.flatnonzero(~np.isfinite(shares))
            raise _not_star_shaped("does not reach", inner[station, missing[len(missing) // 2]])
        share[station] = np.interp(np.arange(len(shares)), there, shares[there])
    points = like.points.copy()
    points[:, 1:-1] = centre + share[..., None] * (inner - centre)
    return replace(like, points=points)


def _not_star_shaped(what: str, place: Floats) -> DoesNotFit:
    """The refusal of a surface at a place of the program's own cage."""
    return DoesNotFit(
        f"The cage {what} the way from the mouth through a place of the program's own.",
        Where("chamber cage", point=plain_point(place)),
        "Let every ray from within the mouth meet it once, from near the band up to the port.",
    )


def _hits(mesh: TriMesh, origin: Floats, way: Floats) -> Floats:
    """Distances (h,) at which a ray meets a mesh, each place once; Möller and Trumbore 1997.

    A ray through a corner meets it; libigl's rays may slip through there, and a cage has corners on them.
    """
    a, b, c = (mesh.corners[:, k] for k in range(3))
    one, two = b - a, c - a
    across = np.cross(way, two)
    size = (one * across).sum(-1)
    good = np.abs(size) > _FACING
    inverse = 1.0 / np.where(good, size, 1.0)
    from_a = origin - a
    u = (from_a * across).sum(-1) * inverse
    turned = np.cross(from_a, one)
    v = (turned @ way) * inverse
    t = (two * turned).sum(-1) * inverse
    met = np.sort(t[good & (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1.0 + 1e-9) & (t > 0.0)])
    return met[np.diff(met, prepend=-np.inf) > 1e-6]


def _inner_side(form: OuterForm, band: ContactBand, throat: Throat, row_mm: float) -> Floats:
    """The chamber side (n, k, 3) of the wall: a sheet through the cage moved in by the wall's thickness."""
    inner = form.cage.points - form.wall_mm * form.cage.out
    ends = (band.grid[:, -1], throat_ring(band.grid[:, -1], throat))
    leave = band.grid[:, -1] - band.grid[:, -2]
    leave = leave / np.linalg.norm(leave, axis=1, keepdims=True)
    sheet = _through(inner[:, 1:-1], ends, leave, row_mm)
    return np.concatenate([band.grid[:, -2, None], sheet], axis=1)


def _through(points: Floats, ends: tuple[Floats, Floats], leave: Floats, row_mm: float) -> Floats:
    """A sheet (n, k, 3) through points (s, r, 3) between border rows (n, 3), leaving the first along ways."""
    count = len(ends[0])
    turn = np.arange(len(points) + 1) / len(points)
    around = CubicSpline(turn, np.concatenate([points, points[:1]]), bc_type="periodic")
    knots = np.concatenate([ends[0][:, None], around(np.arange(count) / count), ends[1][:, None]], axis=1)
    steps = np.linalg.norm(np.diff(knots, axis=1), axis=-1)
    way = np.concatenate([[0.0], np.cumsum(steps.mean(axis=0))])
    rows = max(int(np.ceil(way[-1] / row_mm)), 8)
    length = (steps.sum(axis=1) / way[-1])[:, None]
    bent = ((1, leave * length), (2, np.zeros_like(ends[1])))  # straight at its end
    down = CubicSpline(way, np.moveaxis(knots, 1, 0), bc_type=bent)
    return np.asarray(np.moveaxis(down(np.linspace(0.0, way[-1], rows + 1)), 0, 1))

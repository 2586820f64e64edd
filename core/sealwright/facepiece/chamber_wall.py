"""The chamber wall: from the band's fillet to the port, clear of nose and lips, bending little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where
from ..mesh import Floats, dots
from ..settings import choice, quantity
from .clearance_field import ClearanceField
from .closed_curve import smoothed_round
from .contact_band import ContactBand
from .fairing import FairSheet, StepProjection, Weights, fair_sheet
from .overhang import PrintDown, tangents_along

_LEAST_STEP_MM = 0.05
_DRAWN_MM3 = 2e-4  # load over bending stiffness, 1/mm3: a clamped beam of 37 mm (the wall) bends by 1 mm
_BORE_REACH_MM = 8.0  # behind the plane of the port the cutter of its bore ends before this


@dataclass(frozen=True)
class ChamberSettings:
    """The breathing chamber and its wall."""

    wall_mm: float = quantity(2.0, "mm", 1.2, 6.0, "Wall thickness; whole nozzle lines (0.4 mm) print best.")
    clearance_mm: float = quantity(7.0, "mm", 2.0, 15.0, "Smallest distance from the wall to nose and lips.")
    fillet_mm: float = quantity(5.0, "mm", 3.0, 12.0, "Radius of the fillet between contact band and wall.")
    leave_deg: float = quantity(72.0, "deg", 35.0, 90.0, "Angle at which the wall leaves the skin.")
    overhang: str = choice(
        "limit",
        ("limit", "free"),
        "Keep the wall under the printer's overhang limit for printing port down, or let it be free.",
    )


@dataclass(frozen=True, eq=False)
class ChamberWall:
    """The wall as a grid of stations (n) by rows (k) on its chamber side, from the fillet into the port.

    Attributes
    ----------
    grid : (n, k, 3) mm; the first two rows repeat the band's last two.
    sheet : how the fairing went.
    pushed_mm, pushed_at : how far a cage was pushed out for the clearance at most, and where; 0 without one.
    """

    grid: Floats
    sheet: FairSheet
    pushed_mm: float = 0.0
    pushed_at: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Throat:
    """The end of the chamber wall in the first port.

    Attributes
    ----------
    frame : 4x4 port frame in the face frame: +Z out of the mask, origin where the port boss begins.
    radius_mm : radius of the wall's chamber side in the port.
    overlap_mm : how far the wall reaches into the port boss, where its end is buried.
    """

    frame: Floats
    radius_mm: float
    overlap_mm: float = 0.8


def chamber_wall(
    band: ContactBand,
    throat: Throat,
    field: ClearanceField,
    row_mm: float,
    down: PrintDown | None = None,
    drawn: bool = False,
) -> ChamberWall:
    """The chamber wall of a body.

    Parameters
    ----------
    band : the band whose inner end the wall continues.
    throat : where the wall ends.
    field : where the wall may be.
    row_mm : wanted distance between rows.
    down : how the body prints; None leaves the wall free.
    drawn : draw the wall towards the skin as far as clearance and overhang limit let it: less dead space.

    Raises
    ------
    DoesNotFit : the port stands so near the face or so wide that no wall fits in between.
    """
    start = _first_guess(band, throat, row_mm)
    _require_room(field, start, throat.radius_mm)
    slope = _slope_limit(down) if down is not None else None

    def keep_out(points: Floats) -> Floats:
        """Points moved out of the clearance and of the bore."""
        return round_the_bore(field.push_out(points), throat.frame, throat.radius_mm)

    weights = Weights(load=_draw(field, start)) if drawn else None
    sheet = fair_sheet(start, 2, 1, keep_out, slope, weights)
    return ChamberWall(sheet.grid, sheet)


def _draw(field: ClearanceField, grid: Floats) -> Floats:
    """The load that draws a wall (n, k, 3) towards the skin: along the rays of the chart, even over its area.

    A beam under an even load has a constant fourth derivative; fourth differences of rows h apart are h^4
    times that.
    """
    inward = field.centre - grid
    row = np.linalg.norm(np.diff(grid, axis=1), axis=-1).mean()
    return np.asarray(_DRAWN_MM3 * row**4 * inward / np.linalg.norm(inward, axis=-1, keepdims=True))


def _first_guess(band: ContactBand, end_at: Throat, row_mm: float) -> Floats:
    """Hermite curves from the fillet to the throat; the band's last two rows come first."""
    end, before, axis = band.grid[:, -1], band.grid[:, -2], end_at.frame[:3, 2]
    entry = throat_ring(end, end_at)
    span = np.linalg.norm(entry - end_at.overlap_mm * axis - end, axis=1, keepdims=True)
    rows = max(int(np.ceil(span.mean() * 1.15 / row_mm)), 8)
    t = np.linspace(0.0, 1.0, rows + 1)[None, :, None]
    h00, h10 = 2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t
    h01, h11 = -2 * t**3 + 3 * t**2, t**3 - t**2
    leave, into = band.leave * span, np.broadcast_to(axis, end.shape) * span
    curve = h00 * end[:, None] + h10 * leave[:, None] + h01 * entry[:, None] + h11 * into[:, None]
    return np.concatenate([before[:, None], curve], axis=1)


def throat_ring(end: Floats, throat: Throat) -> Floats:
    """Where the wall ends in a throat (n, 3), without twist to the band's inner end (n, 3)."""
    port = throat.frame
    angle = _ring_angles(end, port)
    ring = np.cos(angle)[:, None] * port[:3, 0] + np.sin(angle)[:, None] * port[:3, 1]
    return np.asarray(port[:3, 3] + throat.radius_mm * ring + throat.overlap_mm * port[:3, 2])


def _ring_angles(end: Floats, port: Floats) -> Floats:
    """Angles (n,) round the port axis for the stations, in order and without twist."""
    local = (end - port[:3, 3]) @ port[:3, :3]
    seen = np.unwrap(np.arctan2(local[:, 1], local[:, 0]))
    turn = np.sign(seen[-1] - seen[0])
    even = seen[0] + turn * 2.0 * np.pi * np.arange(len(end)) / len(end)
    offset = smoothed_round(seen - even, len(end) / 24.0)
    return np.asarray(even + 0.6 * (offset - offset.mean()) + offset.mean())


def _require_room(field: ClearanceField, start: Floats, throat: float) -> None:
    """Refuse a port whose throat comes nearer to the face than the clearance."""
    entry = start[:, -1]
    short = field.shortfall(entry)
    worst = int(np.argmax(short))
    if short[worst] > 0:
        x, y, z = entry[worst]
        raise DoesNotFit(
            f"The port opening (radius {throat:.1f} mm) comes {short[worst]:.1f} mm too near to the face "
            f"for a clearance of {field.clearance_mm:.1f} mm.",
            Where("port", point=(float(x), float(y), float(z))),
            f"Move the port {np.ceil(short[worst]):.0f} mm out, make it smaller, or ask less clearance.",
        )


def round_the_bore(points: Floats, port: Floats, throat: float) -> Floats:
    """Points (..., 3) no nearer to the port's axis than its throat where the bore would thin the wall.

    The cutter of the bore reaches a few millimetres into the chamber; before that the wall may be narrower.
    """
    away = points - port[:3, 3]
    along = away @ port[:3, 2]
    side = away - along[..., None] * port[:3, 2]
    radius = np.maximum(np.sqrt(dots(side, side)), 1e-9)
    needed = throat - np.maximum(-along - _BORE_REACH_MM, 0.0)
    return np.asarray(points + side * np.maximum(needed / radius - 1.0, 0.0)[..., None])


def _slope_limit(down: PrintDown) -> StepProjection:
    """Projection of row differences so that the surface's normal keeps to the overhang limit on both sides.

    Square to the stations' tangent a row difference is (x, y): x down as steeply as the tangent allows, y
    level and outward. The normal through both has n . axis = -y size / sqrt(x^2 + y^2), where ``size`` is the
    cosine of the tangent's own slope; the limit makes it a cone |y| <= t x.
    """
    sine = float(np.sin(down.limit_rad))

    def project(steps: Floats, grid: Floats) -> Floats:
        """Steps (n, k, 3) moved to the nearest place of that cone."""
        along = tangents_along(grid)
        along = along[:, 1:] + along[:, :-1]
        along = along / np.maximum(np.sqrt(dots(along, along)), 1e-12)[..., None]
        level = down.down - (along @ down.down)[..., None] * along
        size = np.sqrt(dots(level, level))
        level = level / np.maximum(size, 1e-9)[..., None]
        out = np.cross(level, along)
        share = np.minimum(sine / np.maximum(size, 1e-9), 0.999)
        tangent = share / np.sqrt(1.0 - share**2)
        x, y = dots(steps, level), dots(steps, out)
        bad = np.abs(y) > tangent * x
        # Nearest point of the cone, kept from collapsing to its tip.
        new_x = np.maximum((x + tangent * np.abs(y)) / (1.0 + tangent**2), _LEAST_STEP_MM)
        new_y = np.sign(y) * tangent * new_x
        moved = steps + (new_x - x)[..., None] * level + (new_y - y)[..., None] * out
        return np.where(bad[..., None], moved, steps)

    return project

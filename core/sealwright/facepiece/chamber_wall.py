"""The chamber wall: from the band's fillet to the port, clear of nose and lips, bending little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..errors import DoesNotFit, Where
from ..face.clearance import grown_by_ball
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..settings import choice, quantity
from .closed_curve import smoothed_round
from .contact_band import ContactBand
from .fairing import FairSheet, Projection, fair_sheet

RISE = 1.6  # the wall has risen to its full clearance this many clearances away from the band
_LEVELS = 4  # distances between skin and full clearance at which the grown skin is tabulated
_COARSE_MM = 2.2  # pixel of the clearance image: the wall is a grid of about the same size


@dataclass(frozen=True)
class ChamberSettings:
    """The breathing chamber and its wall."""

    wall_mm: float = quantity(2.4, "mm", 1.2, 6.0, "Wall thickness; whole nozzle lines (0.4 mm) print best.")
    clearance_mm: float = quantity(7.0, "mm", 2.0, 15.0, "Smallest distance from the wall to nose and lips.")
    fillet_mm: float = quantity(5.0, "mm", 3.0, 12.0, "Radius of the fillet between contact band and wall.")
    leave_deg: float = quantity(72.0, "deg", 35.0, 90.0, "Angle at which the wall leaves the skin.")
    overhang: str = choice(
        "limit",
        ("limit", "free"),
        "Keep the wall under the overhang limit for printing port down, or let it be free.",
    )
    overhang_deg: float = quantity(45.0, "deg", 30.0, 70.0, "Largest overhang from the vertical, port down.")


@dataclass(frozen=True, eq=False)
class ChamberWall:
    """The wall as a grid of stations (n) by rows (k) on its chamber side, from the fillet into the port.

    Attributes
    ----------
    grid : (n, k, 3) mm; the first two rows repeat the band's last two.
    sheet : how the fairing went.
    """

    grid: Floats
    sheet: FairSheet


class ClearanceField:
    """The skin grown by several distances: the allowed radius for any clearance up to a limit."""

    def __init__(self, face: FaceSurface, clearance_mm: float) -> None:
        step = max(int(round(_COARSE_MM / face.pitch_mm)), 1)
        coarse = face.thinned(step)
        self._chart = coarse.chart
        self._limit = clearance_mm
        levels = [clearance_mm * level / (_LEVELS - 1) for level in range(_LEVELS)]
        self._stack = np.stack([grown_by_ball(coarse.chart, coarse.radii, level) for level in levels])

    def push_out(self, points: Floats, wanted_mm: Floats) -> Floats:
        """Points (..., 3) moved out along their rays until ``wanted_mm`` (...) away from the skin."""
        pq, radius = self._chart.place_of(points)
        needed = self._radius(pq, np.broadcast_to(wanted_mm, radius.shape))
        outer = np.maximum(radius, needed)
        return self._chart.centre + (points - self._chart.centre) * (outer / radius)[..., None]

    def shortfall(self, points: Floats, wanted_mm: Floats) -> Floats:
        """By how much (...) in mm along their rays points (..., 3) lie inside the allowed distance."""
        pq, radius = self._chart.place_of(points)
        return np.asarray(self._radius(pq, np.broadcast_to(wanted_mm, radius.shape)) - radius)

    def _radius(self, pq: Floats, wanted: Floats) -> Floats:
        rows, columns = np.moveaxis(self._chart.pixels_of(pq), -1, 0)
        level = wanted / self._limit * (_LEVELS - 1)
        place = np.stack([level.ravel(), rows.ravel(), columns.ravel()])
        return np.asarray(
            ndimage.map_coordinates(self._stack, place, order=1, mode="nearest").reshape(wanted.shape)
        )


def chamber_wall(
    face: FaceSurface,
    band: ContactBand,
    port: Floats,
    throat_mm: float,
    overlap_mm: float,
    settings: ChamberSettings,
    row_mm: float,
    field: ClearanceField | None = None,
) -> ChamberWall:
    """The chamber wall of a body.

    Parameters
    ----------
    face, band : the skin, and the band whose inner end the wall continues.
    port : 4x4 port frame in the face frame: +Z out of the mask, origin where the port boss begins.
    throat_mm : radius of the wall's chamber side in the port.
    overlap_mm : how far the wall reaches into the port boss, where its end is buried.
    settings : clearance, overhang.
    row_mm : wanted distance between rows.
    field : clearance field of the face, when it is kept from an earlier run.

    Raises
    ------
    DoesNotFit : the port stands so near the face or so wide that no wall fits in between.
    """
    field = field or ClearanceField(face, settings.clearance_mm)
    start = _first_guess(band, port, throat_mm, overlap_mm, row_mm)
    _require_room(field, start, port, throat_mm, settings.clearance_mm)
    lengths = np.linalg.norm(np.diff(start[:, 1:], axis=1), axis=-1)
    walked = np.concatenate([np.zeros((len(start), 2)), np.cumsum(lengths, axis=1)], axis=1)
    wanted = settings.clearance_mm * np.clip(walked.mean(axis=0) / (RISE * settings.clearance_mm), 0.0, 1.0)

    def keep_out(points: Floats) -> Floats:
        return field.push_out(points, wanted[None, :])

    slope = (
        _slope_limit(port[:3, 2], np.radians(settings.overhang_deg - 1.0))
        if settings.overhang == "limit"
        else None
    )
    sheet = fair_sheet(start, 2, 1, keep_out, slope)
    return ChamberWall(sheet.grid, sheet)


def _first_guess(band: ContactBand, port: Floats, throat: float, overlap: float, row_mm: float) -> Floats:
    """Hermite curves from the fillet to the throat; the band's last two rows come first."""
    end, before = band.grid[:, -1], band.grid[:, -2]
    axis, origin = port[:3, 2], port[:3, 3]
    angle = _ring_angles(end, port)
    ring = np.cos(angle)[:, None] * port[:3, 0] + np.sin(angle)[:, None] * port[:3, 1]
    span = np.linalg.norm(origin + throat * ring - end, axis=1, keepdims=True)
    rows = max(int(np.ceil(span.mean() * 1.15 / row_mm)), 8)
    t = np.linspace(0.0, 1.0, rows + 1)[None, :, None]
    entry = origin + throat * ring + overlap * axis
    h00, h10 = 2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t
    h01, h11 = -2 * t**3 + 3 * t**2, t**3 - t**2
    leave, into = band.leave * span, np.broadcast_to(axis, end.shape) * span
    curve = h00 * end[:, None] + h10 * leave[:, None] + h01 * entry[:, None] + h11 * into[:, None]
    return np.concatenate([before[:, None], curve], axis=1)


def _ring_angles(end: Floats, port: Floats) -> Floats:
    """Angles (n,) round the port axis for the stations, in order and without twist."""
    local = (end - port[:3, 3]) @ port[:3, :3]
    seen = np.unwrap(np.arctan2(local[:, 1], local[:, 0]))
    turn = np.sign(seen[-1] - seen[0])
    even = seen[0] + turn * 2.0 * np.pi * np.arange(len(end)) / len(end)
    offset = smoothed_round(seen - even, len(end) / 24.0)
    return np.asarray(even + 0.6 * (offset - offset.mean()) + offset.mean())


def _require_room(
    field: ClearanceField, start: Floats, port: Floats, throat: float, clearance: float
) -> None:
    """Refuse a port whose throat comes nearer to the face than the clearance."""
    entry = start[:, -1]
    short = field.shortfall(entry, np.full(len(entry), clearance))
    worst = int(np.argmax(short))
    if short[worst] > 0:
        x, y, z = entry[worst]
        raise DoesNotFit(
            f"The port opening (radius {throat:.1f} mm) comes {short[worst]:.1f} mm too near to the face "
            f"for a clearance of {clearance:.1f} mm.",
            Where("port", point=(float(x), float(y), float(z))),
            f"Move the port {np.ceil(short[worst]):.0f} mm out, make it smaller, or ask less clearance.",
        )


def _slope_limit(axis: Floats, limit_rad: float) -> Projection:
    """Projection of row differences onto the cone round the axis that prints without support."""
    tangent = np.tan(limit_rad)

    def project(steps: Floats) -> Floats:
        along = steps @ axis
        side = steps - along[..., None] * axis
        size = np.linalg.norm(side, axis=-1)
        bad = size > tangent * along
        # Nearest point of the cone |side| <= tan(limit) * along, kept from collapsing to its tip.
        scale = np.maximum((along + tangent * size) / (1.0 + tangent**2), 0.05)
        unit = np.divide(side, size[..., None], out=np.zeros_like(side), where=size[..., None] > 1e-9)
        moved = scale[..., None] * axis + (scale * tangent)[..., None] * unit
        return np.where(bad[..., None], moved, steps)

    return project

"""Where the chamber wall may be: outside of balls round the skin, which shrink towards the contact band."""

from __future__ import annotations

from copy import copy

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ..face.clearance import grown_by_balls
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..solids.polygon import closed_edges, inside_edges
from .overhang import PrintDown

RISE = 1.6  # the wall has risen to its full clearance this many clearances away from the band
LEAST_LEAVE_DEG = 55.0  # no fillet ends flatter: the wall would come down on the skin beside the band
_SOURCE_MM = 1.1  # pixel from which balls grow; on the steep flanks of a nose they lie twice as far apart
_EVERY = 2  # the allowed radii are tabulated on every second pixel: the wall is a grid of about that size
_SPREAD_MM = 4.0
_MARGIN_MM = 0.35  # chords of the wall's grid and of the table cut in by less than this


class ClearanceField:
    """The skin grown by the clearance, which fades to nothing over `RISE` clearances towards the band.

    On flat skin the fading balls are the ones that touch a straight wall which leaves the fillet at the rise
    angle and reaches the full clearance in time.
    """

    def __init__(
        self, face: FaceSurface, clearance_mm: float, inner: Floats, fillet_mm: float, leave_deg: float
    ) -> None:
        """Tabulate the field.

        Parameters
        ----------
        face : the skin.
        clearance_mm : wanted distance.
        inner : (n, 3) the contact band's inner end, where the body may touch the skin.
        fillet_mm, leave_deg : the fillet from the band into the wall.
        """
        self.clearance_mm = clearance_mm
        start_mm, sine = _rise(clearance_mm, fillet_mm, leave_deg)
        step = max(int(round(_SOURCE_MM / face.pitch_mm)), 1)
        coarse = face.thinned(step)
        source, known = coarse.chart, np.isfinite(coarse.radii)
        self._chart = coarse.thinned(_EVERY).chart
        radii = np.where(known, coarse.radii, 1.0)
        skin = source.centre + radii[..., None] * source.directions
        places, curve = source.place_of(skin)[0], source.place_of(inner)[0]
        within = known & inside_edges(places, closed_edges(curve))
        away = np.zeros(known.shape)
        away[within] = cKDTree(_finer(inner)).query(skin[within])[0]
        sizes = np.minimum(clearance_mm, (away - start_mm) * sine)
        sizes = np.where(sizes > 0, sizes + _MARGIN_MM, 0.0)
        self._coarse, self._within, self._all_sizes = coarse, within, sizes
        self._allowed = grown_by_balls(source, coarse.radii, sizes, _EVERY)
        self._skin, self._sizes = skin[within], sizes[within]

    @property
    def centre(self) -> Floats:
        """Where the rays begin along which the wall is pushed out (3,), mm."""
        return self._chart.centre

    def enlarged(self, points: Floats, lacking_mm: Floats) -> ClearanceField:
        """The field with larger balls round points (m, 3) of the skin where the wall came too near.

        What is added falls to nothing over `_SPREAD_MM`, so that the wall stays fair.
        """
        away, nearest = cKDTree(points).query(self._skin)
        more = lacking_mm[nearest] * np.clip(1.5 - away / _SPREAD_MM, 0.0, 1.0)
        out = copy(self)
        out._sizes = np.where(self._sizes > 0, self._sizes + more, 0.0)
        out._all_sizes = self._all_sizes.copy()
        out._all_sizes[self._within] = out._sizes
        out._allowed = grown_by_balls(self._coarse.chart, self._coarse.radii, out._all_sizes, _EVERY)
        return out

    def thinned(self, step: int) -> ClearanceField:
        """Every ``step``-th point of the skin, for a bound from below of the room that is lacking."""
        out = copy(self)
        out._skin, out._sizes = self._skin[::step], self._sizes[::step]
        return out

    def push_out(self, points: Floats) -> Floats:
        """Points (..., 3) moved out along their rays until they are allowed."""
        pq, radius = self._chart.place_of(points)
        outer = np.maximum(radius, self._radius(pq))
        return self._chart.centre + (points - self._chart.centre) * (outer / radius)[..., None]

    def shortfall(self, points: Floats) -> Floats:
        """By how much (...) in mm along their rays points (..., 3) lie inside the allowed distance."""
        pq, radius = self._chart.place_of(points)
        return np.asarray(self._radius(pq) - radius)

    def lacks_room_mm(self, down: PrintDown) -> float:
        """How much further down in the print the throat must lie for a wall that clears all skin, mm.

        The flattest wall that prints and touches a ball of radius c stands c / sin(limit) below its middle.
        """
        if len(self._skin) == 0:
            return 0.0
        return float((self._sizes / np.sin(down.limit_rad) - down.room_mm(self._skin)).max())

    def _radius(self, pq: Floats) -> Floats:
        place = np.moveaxis(self._chart.pixels_of(pq), -1, 0)
        return np.asarray(ndimage.map_coordinates(self._allowed, place, order=1, mode="nearest"))


def _rise(clearance_mm: float, fillet_mm: float, leave_deg: float) -> tuple[float, float]:
    """Where a straight wall that leaves a fillet meets the skin, mm from the band, and the sine of its angle.

    At the angle a the tangent to the fillet meets the skin fillet * tan(a / 2) from the band, and has the
    full clearance from the skin RISE clearances from the band when sin(a) = clearance / (RISE * clearance -
    that distance). No fillet ends flatter than `LEAST_LEAVE_DEG`, so the angle is no larger.
    """
    most = np.radians(min(LEAST_LEAVE_DEG, leave_deg))
    angle = 0.0
    for _ in range(30):
        way = RISE * clearance_mm - fillet_mm * np.tan(angle / 2.0)
        angle = float(np.arcsin(min(clearance_mm / max(way, 1e-9), np.sin(most))))
    return fillet_mm * float(np.tan(angle / 2.0)), float(np.sin(angle))


def _finer(ring: Floats) -> Floats:
    """A closed ring (n, 3) with three points put between neighbours."""
    share = (np.arange(4) / 4.0)[None, :, None]
    after = np.roll(ring, -1, axis=0)[:, None]
    return np.asarray((ring[:, None] * (1.0 - share) + after * share).reshape(-1, 3))

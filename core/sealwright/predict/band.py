"""The contact band of a design on the measured skin, as the physics wants it and as the panel shows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..cushion.settings import cushion_of
from ..designing.design import Design
from ..designing.prepared import Prepared
from ..face.surface import FaceSurface
from ..facepiece.contact_band import ContactBand, grid_normals
from ..facepiece.quick_tube import no_band
from ..facepiece.seal_line import SealLine
from ..mesh import Floats
from ..physics.loop import patch_from_grid
from ..physics.patch import ContactPatch
from ..physics.regions import face_regions
from ..physics.skin_map import site_mix
from ..solids.distance import MeshDistance

_EVEN_STATIONS = 2.0  # over which the normals of a band are evened out
_DEEPEST_MM = 30.0  # skin further under a band is not looked for
_BISECTIONS = 25


@dataclass(frozen=True, eq=False)
class BandOnSkin:
    """Contact rows of a band, outer edge first as in the band's own grid.

    Attributes
    ----------
    places : (n, k, 3) mm on the skin the body was designed on.
    gap_mm : (n, k) from the measured skin to the body, or to its cushion while nothing presses it, along the
        skin's normal; negative is interference.
    across_mm : (k,) distance from the seal line, positive outside.
    moved_mm : (n, k) how far the smoothing had moved the skin there, along its normal, mean over the share of
        skin that the point stands for.
    patch : the same as plain arrays for the physics, inner side first.
    """

    places: Floats
    gap_mm: Floats
    across_mm: Floats
    moved_mm: Floats
    patch: ContactPatch

    def grid(self, values: Floats) -> Floats:
        """Values (n * k, ...) in the order of the patch as (n, k, ...), outer edge first."""
        stations, rows = self.gap_mm.shape
        return np.ascontiguousarray(values.reshape(stations, rows, *values.shape[1:])[:, ::-1])


def band_on_skin(design: Design) -> BandOnSkin:
    """The contact band of a design.

    A finished design brings the measured distance from skin to body; a preview is taken as trimmed exactly,
    so that its gap is the stand-off. A cushion takes its own thickness of it.

    Raises
    ------
    DoesNotFit : a tube has no band.
    LandmarkMissing : a landmark that divides the face into regions is missing.
    """
    if design.band is None:
        raise no_band()
    soft = cushion_of(design.recipe.cushion).thickness_mm
    if design.fit is None:
        return lay_band(design.prepared, design.band, soft)
    if design.band.stand_off.rounded_mm is not None:
        # The nearest skin of many places may be one ridge; square under them it is theirs alone.
        rows = design.band.grid[:, design.band.contact]
        places = skin_under(design.prepared.face, rows)
        apart = MeshDistance(design.parts["body"].mesh).to(places.reshape(-1, 3)).reshape(places.shape[:2])
        return _laid(design.prepared, places, apart - soft, design.fit.across)
    # The check measures from the wanted stand-off; the springs want the gap itself.
    chart = design.prepared.face.chart
    gap = design.fit.gap + design.band.stand_off.at_points(chart, design.fit.places) - soft
    return _laid(design.prepared, design.fit.places, gap, design.fit.across)


def require_line(design: Design) -> SealLine:
    """The seal line of a design.

    Raises
    ------
    DoesNotFit : a tube has none.
    """
    if design.seal_line is None:
        raise no_band()
    return design.seal_line


def lay_band(prepared: Prepared, band: ContactBand, cushion_mm: float = 0.0) -> BandOnSkin:
    """A band that is taken as trimmed by the skin exactly, at its stand-off; a cushion fills some of that."""
    rows = band.grid[:, band.contact]
    far = band.stand_off.rounded_mm is not None
    places = skin_under(prepared.face, rows) if far else prepared.face.drop_on_skin(rows)
    gap = band.stand_off.at_points(prepared.face.chart, places) - cushion_mm
    return _laid(prepared, places, gap, band.across_mm[band.contact])


def skin_under(face: FaceSurface, rows: Floats) -> Floats:
    """Skin (n, k, 3) square under rows (n, k, 3) that stand off it: where a cushion's columns end."""
    down = -grid_normals(rows, _EVEN_STATIONS)
    low, high = np.zeros(rows.shape[:2]), np.full(rows.shape[:2], _DEEPEST_MM)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        outside = face.height_of(rows + down * middle[..., None]) > 0.0
        low, high = np.where(outside, middle, low), np.where(outside, high, middle)
    return face.drop_on_skin(rows + down * low[..., None])


def _laid(prepared: Prepared, places: Floats, gap: Floats, across: Floats) -> BandOnSkin:
    face = prepared.face
    pq, _ = face.chart.place_of(places)
    normals = face.normal_at(pq)
    step = float(np.abs(np.diff(across)).mean())
    moved = smoothing_at(face, pq, step) * (face.chart.direction_at(pq) * normals).sum(-1)
    # The body was trimmed by the smoothed skin; where that lies above the measured skin a gap is left.
    gap = gap + moved
    region = face_regions(places.reshape(-1, 3), prepared.landmarks).reshape(gap.shape)
    mix = site_mix(places[:, ::-1].reshape(-1, 3), prepared.landmarks)
    patch = patch_from_grid(
        places[:, ::-1], normals[:, ::-1], gap[:, ::-1], across[::-1], region[:, ::-1], mix
    )
    return BandOnSkin(places, gap, across, moved, patch)


def smoothing_at(face: FaceSurface, pq: Floats, reach_mm: float) -> Floats:
    """How far (...) the smoothing moved the skin outward at chart positions (..., 2), mm, along the ray.

    Mean over a square of side ``reach_mm``: single readings of a scan are noise, not skin.
    """
    moved = face.smoothing.moved_mm
    if not np.any(moved):
        return np.zeros(pq.shape[:-1])
    size = max(int(round(reach_mm / face.pitch_mm)), 1)
    mean = ndimage.uniform_filter(np.nan_to_num(moved), size, mode="nearest")
    pixel = np.moveaxis(face.chart.pixels_of(pq), -1, 0)
    return np.asarray(ndimage.map_coordinates(mean, pixel, order=1, mode="nearest"))

"""The contact band: the strip of skin on both sides of the seal line, its rolled outer edge and inner fillet.

All of it is one grid: stations along the seal line by rows across it. The grid lies on the swept (smoothed)
skin, where normals behave; how far the true skin lies above or below is kept per grid point, so that the
solid can reach below the skin everywhere and be trimmed by it exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ..errors import BandFolds, BandSinks, OffTheScan, Where, plain_point
from ..face.stand_off import StandOff, grown_surface
from ..face.surface import FaceSurface
from ..mesh import Bools, Floats
from ..settings import quantity
from ..solids.distance import MeshDistance
from .band_ends import Fillet, Strip, edge_roll, fillet_into_wall
from .band_room import Reach, trusted_skin
from .closed_curve import smoothed_round
from .seal_line import SealLine
from .skin_walk import folded_cells, walked

_FAR_MM = 1.0  # a band that stands off further is measured to the true skin, not along swept normals
_STRETCH = (0.3, 1.6)  # shares of the wanted width that a raised strip may have
_CREASE_MM = 2.5  # least radius of the creases of a band that stands off: just over its own thickness
_LOOK_MM = 1.8  # between the rows of a band that is only looked at, as in a final design
_SUNK_MM = 1.0  # a band that lies less below the skin at the stand-off rolls off it at its edge
_SINK_MM = 0.7  # how far the band reaches below the skin before it is trimmed


@dataclass(frozen=True)
class BandSettings:
    """The contact band."""

    width_mm: float = quantity(
        22.0, "mm", 6.0, 30.0, "Width of the contact band on the skin; a wide band leaves fewer marks."
    )
    inner_share: float = quantity(
        0.45, "1", 0.2, 0.8, "Share of the width on the mouth side of the seal line."
    )
    thickness_mm: float = quantity(
        2.0, "mm", 1.2, 6.0, "Thickness of the band; whole nozzle lines print best."
    )
    edge_radius_mm: float = quantity(
        3.5,
        "mm",
        1.5,
        8.0,
        "Radius by which the outer edge rolls away from the skin; below 1.5 mm it cuts in.",
    )
    edge_roll_deg: float = quantity(55.0, "deg", 20.0, 85.0, "How far round the outer edge rolls.")
    stand_off_mm: float = quantity(
        0.0,
        "mm",
        -1.0,
        4.0,
        "Gap between skin and band, or between skin and the band's cushion; negative for a firm hold.",
    )

    @property
    def inner_mm(self) -> float:
        """Width on the mouth side of the seal line, mm."""
        return self.width_mm * self.inner_share

    @property
    def reach(self) -> Reach:
        """Widths on both sides of the seal line."""
        return Reach(self.width_mm - self.inner_mm, self.inner_mm)


@dataclass(frozen=True, eq=False)
class ContactBand:
    """The band as a grid of stations (n) by rows (k), outer edge first, face frame, mm.

    Attributes
    ----------
    grid : (n, k, 3) points on the smoothed skin at the stand-off, then on the edge roll and the fillet.
    reach_down : (n, k) how far the face side lies below the grid along its normal (never above).
    lift : (n, k) how far the outer side lies above the grid along its normal.
    across_mm : (k,) distance from the seal line where the band is as wide as asked; positive outside.
    contact : (k,) rows that touch the skin.
    leave : (n, 3) unit direction in which the wall leaves the fillet.
    stand_off : distance that the contact rows keep from the skin.
    """

    grid: Floats
    reach_down: Floats
    lift: Floats
    across_mm: Floats
    contact: np.ndarray
    leave: Floats
    stand_off: StandOff

    @property
    def inner_end(self) -> Floats:
        """Points (n, 3) of the innermost row that touches the skin."""
        return np.asarray(self.grid[:, np.flatnonzero(self.contact)[-1]])


@dataclass(frozen=True, eq=False)
class LaidStrip:
    """The rows of a band that touch the skin, how far (k,) they lie from the line, and their stand-off."""

    strip: Strip
    across_mm: Floats
    stand_off: StandOff


def ended_band(laid: LaidStrip, settings: BandSettings, fillet: Fillet) -> ContactBand:
    """A laid strip with its rolled edge and its turn into the wall, as a contact band.

    Parameters
    ----------
    laid, settings : the rows on the skin, and what they were laid with.
    fillet : how they turn into the wall.
    """
    strip, across = laid.strip, laid.across_mm
    edge = edge_roll(strip, settings.edge_radius_mm, settings.edge_roll_deg, settings.thickness_mm)
    bend, leave = fillet_into_wall(strip, fillet, settings.thickness_mm)
    rows = [edge.points.shape[1], strip.points.shape[1], bend.points.shape[1]]
    roll = settings.edge_radius_mm * np.radians(settings.edge_roll_deg)
    turn = fillet.radius_mm * np.radians(fillet.leave_deg)
    outside = across[0] + np.linspace(roll, roll / rows[0], rows[0])
    inside = across[-1] - np.linspace(turn / rows[2], turn, rows[2])
    return ContactBand(
        grid=np.concatenate([edge.points, strip.points, bend.points], axis=1),
        reach_down=np.concatenate([edge.reach, strip.reach, bend.reach], axis=1),
        lift=np.concatenate([edge.lift, strip.lift, bend.lift], axis=1),
        across_mm=np.concatenate([outside, across, inside]),
        contact=np.repeat([False, True, False], rows),
        leave=leave,
        stand_off=laid.stand_off,
    )


def laid_strip(
    face: FaceSurface,
    line: SealLine,
    settings: BandSettings,
    row_mm: float,
    shaped_mm: Floats | None = None,
) -> LaidStrip:
    """The rows of a band that touch the skin.

    Parameters
    ----------
    face, line : the face surface and the seal line.
    settings : widths and thickness.
    row_mm : wanted distance between rows.
    shaped_mm : (h, w) added to the stand-off over the chart (a shaped contact surface); None for none.

    Raises
    ------
    OffTheScan : part of the band has no skin under it.
    BandFolds : the band is wider than the face gives room for.
    """
    stand_off = StandOff(settings.stand_off_mm, shaped_mm)
    outer = settings.width_mm - settings.inner_mm
    points, normals, across = _strip(face, line, settings.inner_mm, outer, row_mm)
    _require_skin_and_room(face, line, points, across)
    if stand_off.least_mm > _FAR_MM:
        under = skin_beside(face, line, 0.5 * min(outer, settings.inner_mm))
        grown, stand_off = grown_surface(face, stand_off, _CREASE_MM, under)
        on_grown = _raised_line(face, grown, line, stand_off)
        above = grown.drop_on_skin(points + normals * stand_off.at_points(face.chart, points)[..., None])
        share = _widths_above(above, across, line.sigma_stations)
        points, normals, across = _strip(grown, on_grown, settings.inner_mm, outer, row_mm, share)
        _require_room(grown, points, across)
        below = above = _off_grown(face, points, normals, stand_off)
    else:
        below, above = _skin_offset(face, points, normals)
        points = points + normals * stand_off.at_points(face.chart, points)[..., None]
        if not stand_off.is_even:
            normals = grid_normals(points, line.sigma_stations / 3.0)
    reach = np.minimum(_envelope(below, True, line.sigma_stations), 0.0) - _SINK_MM
    lift = settings.thickness_mm + np.maximum(_envelope(above, False, line.sigma_stations), 0.0)
    return LaidStrip(Strip(points, normals, reach, lift, line.sigma_stations), across, stand_off)


def skin_beside(face: FaceSurface, line: SealLine, reach_mm: float) -> Bools:
    """Pixels (h, w) of skin within a reach of the seal line."""
    pixel = np.rint(face.chart.pixels_of(line.pq)).astype(np.int64).clip(0, face.chart.side - 1)
    off = np.ones(face.radii.shape, dtype=bool)
    off[pixel[:, 0], pixel[:, 1]] = False
    return np.asarray(ndimage.distance_transform_edt(off) * face.pitch_mm <= reach_mm)


def _raised_line(face: FaceSurface, grown: FaceSurface, line: SealLine, stand_off: StandOff) -> SealLine:
    """The seal line square above itself on the skin grown by the stand-off."""
    raised = line.points + face.normal_at(line.pq) * stand_off.at(face.chart, line.pq)[:, None]
    raised = smoothed_round(grown.drop_on_skin(raised, smooth=True), line.sigma_stations)
    pq, _ = grown.chart.place_of(raised)
    return replace(line, pq=pq, points=grown.skin_at(pq, smooth=True))


def _widths_above(above: Floats, across: Floats, sigma_stations: float) -> Floats:
    """Lengths (n, 2) outside and inside the line of rows (n, k, 3) above a strip, over the wanted ones.

    A band that bends round the jaw is wider where it stands off, so that the cushion keeps its width on skin.
    """
    length = np.linalg.norm(np.diff(above, axis=1), axis=-1)
    middle = int(np.argmin(np.abs(across)))
    outside, inside = length[:, :middle].sum(axis=1) / across[0], length[:, middle:].sum(axis=1) / -across[-1]
    share = np.clip(np.stack([outside, inside], axis=1), *_STRETCH)
    return smoothed_round(share, 2.0 * sigma_stations)


def _off_grown(face: FaceSurface, points: Floats, normals: Floats, stand_off: StandOff) -> Floats:
    """How far (n, k) the surface at the stand-off lies off grid points near it, mm, along their normals."""
    skin = MeshDistance(face.mesh)
    pq, _ = face.chart.place_of(points)
    slant = (face.chart.direction_at(pq) * normals).sum(-1)
    level = stand_off.at(face.chart, pq) + stand_off.rounding_at(face.chart, pq) * np.clip(slant, 0.2, 1.0)
    return np.asarray(level - skin.to(points.reshape(-1, 3)).reshape(points.shape[:2]))


def _strip(
    face: FaceSurface,
    line: SealLine,
    inner: float,
    outer: float,
    row_mm: float,
    share: Floats | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Skin strip (n, k, 3), its normals (n, k, 3) and the rows' distances (k,) from the seal line.

    ``share`` (n, 2) of these distances is walked, outside and inside; None takes what the line has room for.
    """
    normal = face.normal_at(line.pq)
    out = np.cross(normal, line.tangents)
    out = smoothed_round(out / np.linalg.norm(out, axis=1, keepdims=True), line.sigma_stations)
    if share is None:
        share = np.ones((len(line.points), 2)) if line.room is None else line.room
    outward = walked(face, line.points, out, outer * share[:, :1], max(int(round(outer / row_mm)), 3))
    inward = walked(face, line.points, -out, inner * share[:, 1:], max(int(round(inner / row_mm)), 3))
    strip = np.concatenate([outward[:, :0:-1], inward], axis=1)
    across = np.concatenate(
        [np.linspace(outer, 0.0, outward.shape[1])[:-1], np.linspace(0.0, -inner, inward.shape[1])]
    )
    strip = smoothed_round(strip, line.sigma_stations / 3.0)
    return strip, grid_normals(strip, line.sigma_stations / 3.0), across


def grid_normals(grid: Floats, sigma_stations: float = 0.0) -> Floats:
    """Unit normals (n, k, 3), away from the skin, of a grid closed along its stations; rows run inwards."""
    along = np.roll(grid, -1, axis=0) - np.roll(grid, 1, axis=0)
    across = np.gradient(grid, axis=1)
    normal = np.cross(across, along)
    normal = normal / np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12)
    normal = smoothed_round(normal, sigma_stations)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12))


def _skin_offset(face: FaceSurface, points: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """How far (n, k) the true skin lies off grid points, mm, signed along their normals.

    The first is the radial distance, never too short on steep skin; the second is square to the skin.
    """
    pq, _ = face.chart.place_of(points)
    slant = (face.chart.direction_at(pq) * normals).sum(-1)
    height = face.height_of(points)
    return -height, -height * np.clip(slant, 0.2, 1.0)


def _envelope(values: Floats, lowest: bool, sigma_stations: float) -> Floats:
    """A smooth bound of values (n, k): the extreme over the neighbourhood, then a blur within it."""
    reach = max(int(np.ceil(sigma_stations / 2)), 1)
    extreme_filter = ndimage.minimum_filter if lowest else ndimage.maximum_filter
    extreme = extreme_filter(values, size=(4 * reach + 1, 3), mode=("wrap", "nearest"))
    blurred = ndimage.uniform_filter1d(extreme, 2 * reach + 1, axis=0, mode="wrap")
    return np.asarray(ndimage.uniform_filter1d(blurred, 2 * reach + 1, axis=0, mode="wrap"))


def _require_skin_and_room(face: FaceSurface, line: SealLine, strip: Floats, across: Floats) -> None:
    """Refuse a band that leaves the skin or folds over itself."""
    pq, _ = face.chart.place_of(strip)
    off = np.argwhere(~face.is_known(pq))
    if len(off):
        x, y, z = strip[off[0][0], off[0][1]]
        share = 100.0 * len(np.unique(off[:, 0])) / len(strip)
        raise OffTheScan(
            f"The contact band leaves the scanned skin along {share:.0f} % of the seal line.",
            Where(
                "contact band",
                point=(float(x), float(y), float(z)),
                indices=tuple(np.unique(off[:, 0])[:100].tolist()),
            ),
            "Rescan with this place in view, choose a narrower band, or move the seal line inwards.",
        )
    _require_room(face, strip, across)


def _require_room(face: FaceSurface, strip: Floats, across: Floats) -> None:
    """Refuse a strip (n, k, 3) that folds over itself."""
    pq, _ = face.chart.place_of(strip)
    folded = np.argwhere(folded_cells(pq))
    if len(folded):
        station, row = folded[0]
        x, y, z = strip[station, row]
        raise BandFolds(
            f"The contact band is too wide: it folds {abs(across[row]):.0f} mm from the seal line.",
            Where("contact band", point=(float(x), float(y), float(z)), indices=(int(station),)),
            "Choose a narrower band or a rounder seal line at this place.",
        )


def require_over_skin(face: FaceSurface, band: ContactBand, sigma_stations: float) -> None:
    """Refuse a raised band through which the skin at the stand-off reaches: trimming would cut it open.

    Parameters
    ----------
    face, band : the skin, and the band with its rolled edge.
    sigma_stations : smoothing of its normals along the seal line.

    Raises
    ------
    BandSinks : it lies too deep somewhere, as where the skin turns away under its outer edge.
    """
    lift = band.lift[:, band.contact]
    sunk = lift.max(axis=1) - lift.min() > _SUNK_MM
    if band.stand_off.least_mm <= _FAR_MM or not sunk.any():
        return
    rows = int(np.flatnonzero(band.contact)[-1]) + 1
    normals = grid_normals(band.grid, sigma_stations / 2.0)
    outer = (band.grid + band.lift[..., None] * normals)[sunk, :rows].reshape(-1, 3)
    deep = band.stand_off.at_points(face.chart, outer) - MeshDistance(face.mesh).to(outer)
    worst = int(np.argmax(deep))
    if deep[worst] > 0.0:
        raise BandSinks(
            f"The contact band cannot follow the skin: its outer side lies {deep[worst]:.1f} mm too deep.",
            Where(
                "contact band",
                point=plain_point(outer[worst]),
                indices=(int(np.flatnonzero(sunk)[worst // rows]),),
            ),
            "Choose a narrower band, or move the seal line to where the skin bends less.",
        )


@dataclass(frozen=True, eq=False)
class OnSkin:
    """How the band would lie on the skin along a line.

    Attributes
    ----------
    on : (n, k) whether the scan has skin under each place of it, measured or filled.
    measured : (n, k) whether it was scanned.
    trusted : (n, k) whether it belongs to the one sheet of skin round the mouth.
    folded : (n,) stations at which the band folds over itself.
    """

    on: Bools
    measured: Bools
    trusted: Bools
    folded: Bools


def looked_under(face: FaceSurface, line: SealLine, reach: Reach) -> OnSkin:
    """How a band would lie on the skin along a line, without laying it."""
    strip, _, _ = _strip(face, line, reach.inner_mm, reach.outer_mm, _LOOK_MM)
    pq, _ = face.chart.place_of(strip)
    trusted = face.looked_up(trusted_skin(face, guessed=True), pq)
    return OnSkin(face.is_known(pq), face.is_measured(pq), trusted, np.asarray(folded_cells(pq).any(axis=1)))

"""What can be wrong with the scanned skin under the band, measured station by station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ..designing.prepared import Prepared
from ..face.denoise import quadratic_fit, robust_sigma, vertex_noise
from ..face.surface import FaceSurface
from ..facepiece.contact_band import BandSettings
from ..facepiece.seal_line import SealLine
from ..mesh import Bools, Floats, TriMesh
from .layers import second_layer_along

ROWS = 9  # skin points across the band, under 4 mm apart on the widest
NOISE_REACH_MM = 8.0  # skin round a station that its noise is taken from: half a usual band
_FIT_MM = 3.0  # half window of the smooth skin that roughness is measured from
_ALONG_MM = 6.0  # half length of band that the roughness of a station is taken from
_NEAR_MM = 2.0  # a repaired spot this far beside the band still has its triangles under it
_MAD_TO_SIGMA = 1.4826  # of a normal distribution


@dataclass(frozen=True, eq=False)
class SkinUnderSeal:
    """Measures of the skin under the contact band, one row for each station of the seal line.

    Attributes
    ----------
    noise_mm : (n,) white noise of the scan within 8 mm, standard deviation blind to outliers.
    roughness_mm : (n,) deviation of the raw skin from a smooth one 6 mm wide, blind to single steps.
    spacing_mm : (n,) typical distance between points of the scan within 8 mm.
    guessed : (n,) share of the band's width whose skin was filled, not scanned.
    border_mm : (n,) distance of the band from where the scan ends; infinite where it ends nowhere near.
    slope_deg : (n, 9) angle between skin and the view from inside the head, across the band; 90 is edge-on.
    doubled : (n,) share of the band's width with a second layer of the scan behind the first.
    repaired : (n,) spikes pulled back that lie nearest to this station, under the band or 2 mm beside it.
    """

    noise_mm: Floats
    roughness_mm: Floats
    spacing_mm: Floats
    guessed: Floats
    border_mm: Floats
    slope_deg: Floats
    doubled: Floats
    repaired: Floats


def skin_under_seal(prepared: Prepared, line: SealLine, band: BandSettings) -> SkinUnderSeal:
    """Measure the skin under the band along a seal line.

    Parameters
    ----------
    prepared : the wearer.
    line : where the band runs.
    band : its width, and how it lies on the line.
    """
    face, rows = prepared.face, band_rows(prepared.face, line, band)
    pq, _ = face.chart.place_of(rows)
    pixel = np.moveaxis(face.chart.pixels_of(pq), -1, 0)
    cosine = np.abs((face.normal_at(pq) * face.chart.direction_at(pq)).sum(axis=-1)).clip(0.0, 1.0)
    border = np.full(len(rows), np.inf)
    if not face.known.all():
        away = ndimage.distance_transform_edt(face.known) * face.pitch_mm
        border = ndimage.map_coordinates(away, pixel, order=1, mode="nearest").min(axis=1)
    residual = ndimage.map_coordinates(_residual(face), pixel, order=0, mode="nearest")
    noise, spacing = _points_along(prepared.skin, line.points)
    return SkinUnderSeal(
        noise_mm=noise,
        roughness_mm=_roughness_along(residual * cosine, line.spacing_mm),
        spacing_mm=spacing,
        guessed=1.0 - face.is_measured(pq).mean(axis=1),
        border_mm=border,
        slope_deg=np.degrees(np.arccos(cosine)),
        doubled=second_layer_along(prepared.skin, face, rows),
        repaired=_repaired_along(repaired_spots(prepared), rows),
    )


def band_rows(face: FaceSurface, line: SealLine, band: BandSettings) -> Floats:
    """Skin points (n, 9, 3) in mm across the band, the outer edge first."""
    out = np.cross(face.normal_at(line.pq), line.tangents)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    outer, inner = band.width_mm * (1.0 - band.inner_share), band.width_mm * band.inner_share
    across = np.linspace(outer, -inner, ROWS)
    if line.room is not None:
        across = across * line.room[:, (across < 0.0).astype(np.int64)]
    return face.drop_on_skin(line.points[:, None] + out[:, None] * across[..., None], smooth=True)


def noise_along(skin: TriMesh, points: Floats) -> Floats:
    """White noise (n,) of the scan round each of some points (n, 3), mm, deviation blind to outliers."""
    return _points_along(skin, points)[0]


def repaired_spots(prepared: Prepared) -> Floats:
    """Places (k, 3) in mm, face frame, where the cleaning of the scan moved the skin."""
    spots = [spot for r in prepared.remarks if r.where.frame == "scan" for spot in r.where.spots]
    scan = np.array(spots, dtype=np.float64).reshape(-1, 3) / prepared.mm_per_unit
    return np.asarray(scan @ prepared.scan_to_design[:3, :3].T + prepared.scan_to_design[:3, 3])


def _points_along(skin: TriMesh, points: Floats) -> tuple[Floats, Floats]:
    """Noise (n,) and spacing (n,) of the scan's vertices within reach of each point, mm; NaN without any."""
    near = cKDTree(skin.vertices).query_ball_point(points, NOISE_REACH_MM)
    used = np.zeros(len(skin.vertices), dtype=bool)
    for rows in near:
        used[rows] = True
    # Noise is taken from neighbours of neighbours, whose normals need the ring round them: three rings more.
    noise = np.full(len(skin.vertices), np.nan)
    part, kept = _grown(skin, used)
    noise[kept] = vertex_noise(part)
    length = np.linalg.norm(part.vertices[part.faces] - part.vertices[np.roll(part.faces, 1, axis=1)], axis=2)
    share = np.bincount(part.faces.ravel(), minlength=len(part.vertices))
    reach = np.bincount(part.faces.ravel(), length.ravel(), minlength=len(part.vertices))
    edge = np.full(len(skin.vertices), np.nan)
    edge[kept] = reach / np.maximum(share, 1)
    sigma = np.array([robust_sigma(noise[rows]) if len(rows) else np.nan for rows in near])
    spacing = np.array([float(np.median(edge[rows])) if len(rows) else np.nan for rows in near])
    return sigma, spacing


def _grown(skin: TriMesh, used: Bools) -> tuple[TriMesh, Bools]:
    """The triangles within three rings of some vertices, and which vertices (n,) they have."""
    for _ in range(3):
        faces = np.asarray(used[skin.faces].any(axis=1))
        used = np.zeros_like(used)
        used[skin.faces[faces]] = True
    return skin.submesh(faces), used


def _residual(face: FaceSurface) -> Floats:
    """Distance (h, w) of the raw skin from a local quadratic, mm along the view; NaN where not scanned."""
    raw = face.radii - face.smoothing.moved_mm
    reach = max(int(round(_FIT_MM / face.pitch_mm)), 2)
    scanned = face.measured & face.known
    return np.where(scanned, raw - quadratic_fit(raw, scanned, reach), np.nan)


def _roughness_along(residual: Floats, spacing_mm: float) -> Floats:
    """Robust deviation (n,) of residuals (n, k) within 6 mm along the line, which is closed."""
    reach = min(max(int(round(_ALONG_MM / spacing_mm)), 1), (len(residual) - 1) // 2)
    round_it = np.pad(residual, ((reach, reach), (0, 0)), mode="wrap")
    window = np.lib.stride_tricks.sliding_window_view(round_it, 2 * reach + 1, axis=0)
    window = window.reshape(len(residual), -1)
    known = np.isfinite(window).any(axis=1)
    rough = np.full(len(window), np.nan)
    middle = np.nanmedian(window[known], axis=1, keepdims=True)
    rough[known] = _MAD_TO_SIGMA * np.nanmedian(np.abs(window[known] - middle), axis=1)
    return rough


def _repaired_along(spots: Floats, rows: Floats) -> Floats:
    """How many of some spots (k, 3) lie under or beside the band at each station (n,)."""
    count = np.zeros(len(rows))
    if len(spots):
        step = np.linalg.norm(np.diff(rows, axis=1), axis=2).max()
        away, nearest = cKDTree(rows.reshape(-1, 3)).query(spots)
        np.add.at(count, nearest[away < _NEAR_MM + step / 2.0] // rows.shape[1], 1.0)
    return count

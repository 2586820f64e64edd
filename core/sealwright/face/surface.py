"""The face surface: one sheet of skin in the face frame, and how to walk on it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ..errors import NotAFace, Remark, Where
from ..mesh import Bools, Floats, TriMesh, at_all_corners
from .chart import RadialChart
from .denoise import Smoothed, nearest_filled, robust_sigma, smooth_bounded, vertex_noise
from .holes import enclosed_holes, fill_smoothly
from .quadtree import whole_squares
from .rasterise import ScanOnChart, scan_on_chart

_PITCH_MM = 0.75  # on the skin 75 mm from the centre: chord error under 0.02 mm on a radius of 4 mm
_SPAN_RAD = 1.42  # half opening of the chart: nose bridge to under the chin, cheek to cheek
_CLEAN_MM = 0.05  # a scan with less noise is left alone: smoothing would cost more fit than it brings
_GAUSSIAN_MM = 4.0  # smoothing length of the skin that sections and normals are taken from


@dataclass(frozen=True, eq=False)
class FaceSurface:
    """The prepared skin as an image of radii over a radial chart, face frame, mm.

    Attributes
    ----------
    chart : the map of directions.
    radii : (h, w) mm from the chart's centre; NaN where there is no skin.
    measured : (h, w) pixels that the scan covers.
    guessed : (h, w) pixels that were filled.
    noise_mm : white noise of the scan round the mask region (standard deviation).
    smoothing : what was moved and by how much.
    remarks : what the maker should know.
    scan : what it was made from, on the same chart; None where there is no scan.
    feather_mm : smoothing length of what sections and normals are taken from.
    """

    chart: RadialChart
    radii: Floats
    measured: Bools
    guessed: Bools
    noise_mm: float
    smoothing: Smoothed
    remarks: tuple[Remark, ...] = field(default=())
    scan: ScanOnChart | None = None
    feather_mm: float = _GAUSSIAN_MM

    @property
    def skin(self) -> TriMesh | None:
        """The triangles of the scan, face frame, mm."""
        return self.scan.mesh if self.scan else None

    @cached_property
    def known(self) -> Bools:
        """Pixels (h, w) with skin, measured or guessed."""
        return np.isfinite(self.radii)

    @cached_property
    def guessed_squares(self) -> Bools:
        """Pixel squares (h - 1, w - 1) with skin at all corners, some of it guessed."""
        return whole_squares(self.known) & ~whole_squares(self.known & ~self.guessed)

    @cached_property
    def points(self) -> Floats:
        """Skin points (h, w, 3) of all pixels, mm; unknown pixels continue the nearest skin."""
        return self.chart.centre + self.chart.directions * nearest_filled(self.radii, self.known)[..., None]

    @cached_property
    def _nearest_filled(self) -> Floats:
        return nearest_filled(self.radii, self.known)

    @cached_property
    def _gaussian_smoothed(self) -> Floats:
        """Smoothed radii for sections and normals; feathered, not for contact."""
        return np.asarray(
            ndimage.gaussian_filter(self._nearest_filled, self.feather_mm / self.pitch_mm, mode="nearest")
        )

    @cached_property
    def pitch_mm(self) -> float:
        """Typical size of a pixel on the skin, mm."""
        return self.chart.pitch_rad * float(np.median(self.radii[self.known]))

    def radius_at(self, pq: Floats, smooth: bool = False) -> Floats:
        """Skin radius (...) in mm at chart positions (..., 2), bilinear; ``smooth``: of the smoothed one."""
        return self._sampled(self._gaussian_smoothed if smooth else self._nearest_filled, pq)

    def _sampled(self, image: Floats, pq: Floats) -> Floats:
        """Bilinear values (...) of an image (h, w) at chart positions (..., 2)."""
        pixel = self.chart.pixels_of(pq)
        flat = pixel.reshape(-1, 2).T
        return np.asarray(
            ndimage.map_coordinates(image, flat, order=1, mode="nearest").reshape(pixel.shape[:-1])
        )

    def is_known(self, pq: Floats) -> Bools:
        """Whether there is skin at chart positions (..., 2)."""
        return self.looked_up(self.known, pq)

    def is_measured(self, pq: Floats) -> Bools:
        """Whether the scan itself covers chart positions (..., 2)."""
        return self.looked_up(self.measured, pq)

    def looked_up(self, image: Bools, pq: Floats) -> Bools:
        """Values (...) of an image (h, w) at chart positions (..., 2); False off the chart."""
        pixel = np.rint(self.chart.pixels_of(pq)).astype(np.int64)
        inside = ((pixel >= 0) & (pixel < self.chart.side)).all(axis=-1)
        row, column = np.moveaxis(pixel.clip(0, self.chart.side - 1), -1, 0)
        return np.asarray(image[row, column] & inside)

    def skin_at(self, pq: Floats, smooth: bool = False) -> Floats:
        """Skin points (..., 3) in mm at chart positions (..., 2)."""
        return self.chart.centre + self.chart.direction_at(pq) * self.radius_at(pq, smooth)[..., None]

    def drop_on_skin(self, points: Floats, smooth: bool = False) -> Floats:
        """Points (..., 3) moved along the ray from the centre onto the skin, mm."""
        return self.skin_at(self.chart.place_of(points)[0], smooth)

    def skin_in_front_view(self, x_mm: float, z_mm: float, y_guess_mm: float) -> Floats:
        """The skin point (3,) that has the given X and Z in the face frame, from a guess of its depth."""
        point = np.array([x_mm, y_guess_mm, z_mm])
        for _ in range(12):
            point = np.array([x_mm, self.drop_on_skin(point)[1], z_mm])
        return self.drop_on_skin(point)

    def height_of(self, points: Floats) -> Floats:
        """Radial height (...) in mm of points (..., 3) above the skin; negative inside the head."""
        pq, radius = self.chart.place_of(points)
        return np.asarray(radius - self.radius_at(pq))

    @cached_property
    def _normal_image(self) -> Floats:
        skin = self.chart.centre + self.chart.directions * self._gaussian_smoothed[..., None]
        along_row = np.gradient(skin, axis=1)
        along_column = np.gradient(skin, axis=0)
        normal = np.cross(along_row, along_column)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def normal_at(self, pq: Floats) -> Floats:
        """Outward unit normals (..., 3) of the smoothed skin at chart positions (..., 2)."""
        normal = np.stack([self._sampled(self._normal_image[..., axis], pq) for axis in range(3)], axis=-1)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def walk(
        self, start: Floats, direction: Floats, distance_mm: float | Floats, step_mm: float = 0.5
    ) -> Floats:
        """Walk straight on over the smoothed skin.

        Parameters
        ----------
        start, direction : (..., 3) skin points in mm, and directions that are made tangent to the skin.
        distance_mm : how far to walk, one for all or (...) each.
        step_mm : longest step.

        Returns
        -------
        (..., 3) skin points (on the unsmoothed skin), mm.
        """
        steps = max(int(np.ceil(np.max(distance_mm) / step_mm)), 1)
        stride = np.asarray(distance_mm / steps)[..., None]
        here = np.array(start, dtype=np.float64)
        heading = np.array(direction, dtype=np.float64)
        for _ in range(steps):
            pq, _ = self.chart.place_of(here)
            normal = self.normal_at(pq)
            heading = heading - (heading * normal).sum(-1, keepdims=True) * normal
            heading = heading / np.linalg.norm(heading, axis=-1, keepdims=True)
            here = self.drop_on_skin(here + heading * stride, smooth=True)
        return self.drop_on_skin(here)

    def thinned(self, step: int) -> FaceSurface:
        """The same surface with every ``step``-th pixel, keeping the middle column, and without its scan."""
        half = self.chart.half // step
        first = self.chart.half - half * step
        pick = (slice(first, first + 2 * half * step + 1, step),) * 2
        chart = replace(self.chart, pitch_rad=self.chart.pitch_rad * step, half=half)
        moved = replace(self.smoothing, radii=self.radii[pick], moved_mm=self.smoothing.moved_mm[pick])
        return replace(
            self,
            chart=chart,
            radii=self.radii[pick],
            measured=self.measured[pick],
            guessed=self.guessed[pick],
            smoothing=moved,
            scan=None,
        )

    @cached_property
    def mesh(self) -> TriMesh:
        """The known skin as triangles, outward, symmetric about the middle column."""
        return sheet_mesh(self.points, self.known)


def sheet_mesh(points: Floats, keep: Bools) -> TriMesh:
    """Triangles of the pixels (h, w) to keep; diagonals mirror at the middle column.

    Parameters
    ----------
    points : (h, w, 3) mm.
    keep : (h, w).

    Raises
    ------
    NoSurface : no four neighbouring pixels are kept.
    """
    height, width = keep.shape
    index = np.arange(height * width, dtype=np.int32).reshape(height, width)
    faces = sheet_faces(index, whole_squares(keep))
    return TriMesh(np.ascontiguousarray(points.reshape(-1, 3)), faces).submesh(
        np.ones(len(faces), dtype=bool)
    )


def sheet_faces(index: NDArray[np.int32], whole: Bools) -> NDArray[np.int32]:
    """Triangles (m, 3) of the pixel squares (h-1, w-1) that are whole, as indices from ``index`` (h, w)."""
    a, b = index[:-1, :-1], index[:-1, 1:]
    c, d = index[1:, 1:], index[1:, :-1]
    left = np.zeros_like(whole)
    left[:, : whole.shape[1] // 2] = True
    one, two = whole & left, whole & ~left
    return np.vstack(
        [
            np.stack([a[one], b[one], c[one]], axis=1),
            np.stack([a[one], c[one], d[one]], axis=1),
            np.stack([a[two], b[two], d[two]], axis=1),
            np.stack([b[two], c[two], d[two]], axis=1),
        ]
    ).astype(np.int32)


def face_chart(size: float = 1.0) -> RadialChart:
    """The chart for a face ``size`` times the usual one (face length 115 mm)."""
    pitch = _PITCH_MM / 75.0
    return RadialChart(
        centre=np.array([0.0, 55.0, -25.0]) * size,
        tilt_rad=float(np.radians(15.0)),
        pitch_rad=pitch,
        half=int(round(_SPAN_RAD / pitch)),
    )


def face_surface(
    mesh: TriMesh, chart: RadialChart, fill_mm: float = 8.0, smooth_bound_mm: float | None = None
) -> FaceSurface:
    """The face surface of a scan that lies in the face frame.

    Parameters
    ----------
    mesh : the scan, mm, face frame.
    chart : where to look, see `face_chart`.
    fill_mm : holes whose rims come closer than this to each other are filled; larger ones too when enclosed.
    smooth_bound_mm : hard bound of the smoothing; None chooses 1.5 times the noise, at most 0.3 mm.

    Raises
    ------
    NotAFace : almost nothing of the scan lies where the face should be.
    """
    size = float(np.linalg.norm(chart.centre) / np.linalg.norm([55.0, 25.0]))
    scan = scan_on_chart(mesh, chart, furthest_mm=170.0 * size)
    raw = scan.radii()
    measured = np.isfinite(raw)
    if measured.mean() < 0.1:
        raise NotAFace(
            f"Only {100 * measured.mean():.0f} % of the mask region round nose and mouth holds any skin.",
            Where("scan", point=(0.0, 0.0, 0.0)),
            "Check the landmarks; scan the face from the front with nose, mouth and chin in view.",
        )
    pitch_mm = chart.pitch_rad * float(np.median(raw[measured]))
    near = at_all_corners(_near(mesh, chart, 100.0 * size), mesh.faces)
    noise = robust_sigma(vertex_noise(mesh.submesh(near) if near.any() else mesh))
    bound = min(1.5 * noise, 0.3) if smooth_bound_mm is None else smooth_bound_mm
    bound = 0.0 if noise < _CLEAN_MM and smooth_bound_mm is None else bound
    holes = enclosed_holes(measured, max(int(round(fill_mm / 2 / pitch_mm)), 1))
    smoothed = smooth_bounded(raw, measured, noise, bound, pitch_mm)
    radii = fill_smoothly(smoothed.radii, holes)
    return FaceSurface(chart, radii, measured, holes, noise, smoothed, (), scan)


def _near(mesh: TriMesh, chart: RadialChart, reach_mm: float) -> Bools:
    """Vertices (n,) in front of the chart's centre and within reach of it."""
    away = mesh.vertices - chart.centre
    near = np.linalg.norm(away, axis=1) < reach_mm
    return np.asarray(near & (away @ chart.axes[2] > 0))

"""Analytic skins as images of radii: sphere, plane, cylinder, and a ridge, seen from the chart's centre."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from sealwright.face.chart import RadialChart
from sealwright.face.denoise import Smoothed
from sealwright.face.surface import FaceSurface, sheet_mesh
from sealwright.mesh import TriMesh

HEAD = (0.0, 55.0, -25.0)  # where the core puts the chart of a middling face; `face_surface` judges by it
PITCH_RAD = 0.01  # 0.75 mm at 75 mm, as the core uses on faces


def chart_at(centre=(0.0, 0.0, 0.0), tilt_deg: float = 0.0, half: int = 120) -> RadialChart:
    """A chart that looks along -Y from a centre."""
    return RadialChart(np.array(centre), float(np.radians(tilt_deg)), PITCH_RAD, half)


def surface_of(chart: RadialChart, radii: np.ndarray) -> FaceSurface:
    """A noiseless face surface with these radii; NaN is no skin."""
    known = np.isfinite(radii)
    none = np.zeros_like(known)
    return FaceSurface(chart, radii, known, none, 0.0, Smoothed(radii, np.zeros_like(radii), 0.0))


def sphere_radii(chart: RadialChart, middle, radius_mm: float) -> np.ndarray:
    """Far hits of the chart's rays on a sphere round the chart's centre."""
    away = chart.centre - np.asarray(middle)
    along = chart.directions @ away
    return -along + np.sqrt(along**2 - away @ away + radius_mm**2)


def plane_radii(chart: RadialChart, y_mm: float) -> np.ndarray:
    """Hits on the plane Y = y_mm in front of the centre; NaN where rays run past 70 degrees."""
    down = -chart.directions[..., 1]
    seen = down > np.cos(np.radians(70.0))
    return np.where(seen, (chart.centre[1] - y_mm) / np.where(seen, down, 1.0), np.nan)


def cylinder_radii(chart: RadialChart, radius_mm: float) -> np.ndarray:
    """Hits on a cylinder about the vertical through the chart's centre; NaN past 70 degrees up or down."""
    flat = np.hypot(chart.directions[..., 0], chart.directions[..., 1])
    seen = flat > np.cos(np.radians(70.0))
    return np.where(seen, radius_mm / np.where(seen, flat, 1.0), np.nan)


def sphere(radius_mm: float = 75.0, middle=(0.0, 0.0, 0.0), **chart) -> FaceSurface:
    """A sphere."""
    place = chart_at(**chart)
    return surface_of(place, sphere_radii(place, middle, radius_mm))


def plane(y_mm: float = -75.0, **chart) -> FaceSurface:
    """A plane in front of the centre, square to -Y."""
    place = chart_at(**chart)
    return surface_of(place, plane_radii(place, y_mm))


def cylinder(radius_mm: float = 75.0, **chart) -> FaceSurface:
    """A cylinder about the vertical."""
    place = chart_at(**chart)
    return surface_of(place, cylinder_radii(place, radius_mm))


def as_scan(face: FaceSurface) -> TriMesh:
    """The skin as a mesh, its vertices exactly on the analytic shape at the pixels."""
    return sheet_mesh(face.points, face.known)


def mirrored(mesh: TriMesh) -> TriMesh:
    """A mesh mirrored left to right, outward again."""
    return mesh.moved(np.diag([-1.0, 1.0, 1.0, 1.0]))


def without_scan(face: FaceSurface) -> FaceSurface:
    """The same surface with nothing to look finer at."""
    return replace(face, scan=None)

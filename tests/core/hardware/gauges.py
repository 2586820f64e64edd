"""What several hardware tests measure with: closedness, crossings, overhang, diameters of level sections."""

from __future__ import annotations

import math

import numpy as np
import pymeshlab
import trimesh
from sealwright.hardware.allowance import Allowance, Shrinkage
from sealwright.hardware.profiles import ThreadProfile
from sealwright.solids.boolean import Solid, pieces
from sealwright.solids.crossings import crossing_pairs

ALLOWANCE = Allowance(clearance_mm=0.4, coating_mm=0.0, shrinkage=Shrinkage((0.3, 0.3, 0.3)), material="petg")


def require_printable_solid(solid: Solid) -> None:
    """One piece, closed and outward by trimesh, no triangle crossing another by our exact test or by meshlab.

    Meshlab looks at the coordinates as a printer gets them, in 32 bits: its own rounding makes it report
    pairs of 64-bit boolean results that are exactly apart.
    """
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0
    assert len(pieces(solid)) == 1
    assert len(crossing_pairs(solid.mesh)) == 0
    scene = pymeshlab.MeshSet()
    scene.add_mesh(pymeshlab.Mesh(solid.mesh.vertices.astype(np.float32).astype(float), solid.mesh.faces))
    scene.compute_selection_by_self_intersections_per_face()
    assert scene.current_mesh().selected_face_number() == 0


def overhang_area(solid: Solid, up: tuple[float, float, float], limit_deg: float = 45.5) -> float:
    """Area, mm2, that overhangs by more than the limit from the vertical and does not lie on the bed.

    Half a degree over 45 for facets of a screw, whose flanks tilt by the lead angle between two columns.
    """
    mesh, axis = solid.mesh, np.array(up)
    height = mesh.corners @ axis
    down = mesh.face_normals @ axis < -np.sin(np.radians(limit_deg))
    return float(mesh.face_areas[down & (height.min(axis=1) > height.min() + 1e-6)].sum())


def section_radii(solid: Solid, z_mm: float) -> tuple[float, float]:
    """Smallest and largest distance from the axis of the outline of a level section."""
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    lines = trimesh.intersections.mesh_plane(mesh, [0, 0, 1], [0, 0, z_mm])
    start, way = lines[:, 0, :2], lines[:, 1, :2] - lines[:, 0, :2]
    square = np.maximum(np.sum(way * way, axis=1), 1e-30)
    along = np.clip(-np.sum(start * way, axis=1) / square, 0.0, 1.0)
    nearest = start + along[:, None] * way
    return float(np.hypot(*nearest.T).min()), float(np.hypot(lines[..., 0], lines[..., 1]).max())


def turned(angle_rad: float, advance_mm: float = 0.0) -> np.ndarray:
    """4x4 turn about Z with an advance along it."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    out = np.eye(4)
    out[:2, :2] = [[c, -s], [s, c]]
    out[2, 3] = advance_mm
    return out


def smallest_gap(first: Solid, second: Solid, search_mm: float) -> float:
    """Smallest distance between two solids, mm, at most ``search_mm``; zero when they overlap."""
    return float(first.native.min_gap(second.native, search_mm))


def arc_radius_mm(profile: ThreadProfile, top: bool) -> float:
    """Radius of the tangent arc that would end a profile at its top or bottom, mm."""
    flat = profile.width_mm(profile.top_mm if top else profile.bottom_mm)
    apex_gap = 0.5 * (flat if top else profile.pitch_mm - flat) / math.tan(profile.flank_rad)
    return apex_gap / (1.0 / math.sin(profile.flank_rad) - 1.0)


def section_area_mm2(profile: ThreadProfile) -> float:
    """Area of one ridge above the smallest radius in an axial section, mm2."""
    half = profile.half_line()
    half = np.vstack([[0.0, half[0, 1]], half, [0.5 * profile.pitch_mm, half[-1, 1]]])
    height, step = half[:, 1] - profile.bottom_mm, np.diff(half[:, 0])
    return float(np.sum((height[1:] + height[:-1]) * step))

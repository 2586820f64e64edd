"""Small meshes for the repair tests."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.scan.repair.clean import CleanReport


def sheet(columns: int = 40, rows: int = 30, step: float = 2.0) -> TriMesh:
    """A gently waved open sheet, 2 triangles per square, counter-clockwise seen from +Z, mm."""
    x, y = np.meshgrid(np.arange(columns + 1) * step, np.arange(rows + 1) * step)
    z = 3.0 * np.sin(x * 0.06) + 2.0 * np.cos(y * 0.09)
    v = np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1)
    a = (np.arange(columns)[None] + (columns + 1) * np.arange(rows)[:, None]).ravel()
    w = columns + 1
    f = np.vstack([np.stack([a, a + 1, a + w + 1], 1), np.stack([a, a + w + 1, a + w], 1)])
    return trimesh_of(v, f)


def with_faces(mesh: TriMesh, vertices: np.ndarray, faces: np.ndarray) -> TriMesh:
    """The mesh with more vertices and triangles; the new ones may use old vertices."""
    return trimesh_of(np.vstack([mesh.vertices, vertices]), np.vstack([mesh.faces, faces]))


NO_COUNTS = ("pieces", "closed", "largest_spike_mm", "spike_places")
COUNTS = [f.name for f in fields(CleanReport) if f.name not in NO_COUNTS]


def changes(report: CleanReport) -> dict[str, int]:
    """The counts of a report that are not zero."""
    return {name: getattr(report, name) for name in COUNTS if getattr(report, name)}

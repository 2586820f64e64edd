"""The door to the solid modeller: what it cleans away, and what it leaves; reference: trimesh."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from sealwright.mesh import TriMesh
from sealwright.solids.boolean import solid_of


def cube_with_sliver(gap_mm: float) -> TriMesh:
    """A cube of 10 mm one of whose edges has two points in its middle, a gap apart and a little off it."""
    box = trimesh.creation.box((10.0, 10.0, 10.0))
    vertices, faces = [tuple(v) for v in box.vertices], [tuple(f) for f in box.faces]
    for away in (0.0, gap_mm):
        # Split the triangles at the edge between two corners by a point on it.
        a, b = (vertices.index(corner) for corner in ((5.0, 5.0, -5.0), (5.0, 5.0, 5.0)))
        if away:
            a = len(vertices) - 1
        new = len(vertices)
        vertices.append((5.0, 5.0 + 1e-9, away))
        split = []
        for face in faces:
            if a in face and b in face:
                split += [
                    tuple(new if i == b else i for i in face),
                    tuple(new if i == a else i for i in face),
                ]
            else:
                split.append(face)
        faces = split
    return TriMesh(np.array(vertices), np.array(faces, dtype=np.int32))


@pytest.mark.parametrize(("gap_mm", "points"), [(1e-7, 9), (1e-3, 10)])
def test_only_slivers_are_taken_away(gap_mm: float, points: int) -> None:
    mesh = cube_with_sliver(gap_mm)
    assert trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).is_watertight
    cleaned = solid_of(mesh, "cube").without_slivers(1e-6)
    edges = cleaned.mesh.corners - np.roll(cleaned.mesh.corners, 1, axis=1)
    assert np.linalg.norm(edges, axis=-1).min() > 1e-6
    assert len(cleaned.mesh.vertices) <= points
    assert cleaned.volume == pytest.approx(1000.0, abs=1e-5)
    reference = trimesh.Trimesh(cleaned.mesh.vertices, cleaned.mesh.faces, process=False)
    assert reference.is_watertight

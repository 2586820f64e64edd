"""Invariant 8 of docs/design: cost grows no faster than triangles in the mask region. Counts, not times."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from sealwright.designing.prepare import design, prepare
from sealwright.designing.prepared import Prepared
from sealwright.face import rasterise
from sealwright.face.surface import FaceSurface, face_surface
from sealwright.mesh import TriMesh
from sealwright.progress import run_to_end

from .wearers import marlo_head


def finer(mesh: TriMesh, keep: np.ndarray | None = None) -> TriMesh:
    """Every triangle, or those to keep, split in four (trimesh)."""
    index = None if keep is None else np.flatnonzero(keep)
    vertices, faces = trimesh.remesh.subdivide(mesh.vertices, mesh.faces, index)
    return TriMesh(np.array(vertices), np.array(faces, dtype=np.int32))


@pytest.fixture
def counted(monkeypatch) -> list[tuple[int, int]]:
    """Triangles that take part and pairs of triangle and ray that are tried, of each look at a scan."""
    looks: list[tuple[int, int]] = []
    plain = rasterise._candidates

    def counting(low, size, side):
        looks.append((len(low), int(size.prod(axis=1).sum())))
        return plain(low, size, side)

    monkeypatch.setattr(rasterise, "_candidates", counting)
    return looks


def test_rays_tried_do_not_grow_with_the_triangles(marlo: Prepared, counted: list) -> None:
    """4 times the triangles: 4 times as many take part, but each is tried on a quarter of the rays."""
    face = marlo.face
    for mesh in (marlo.skin, finer(marlo.skin)):
        face_surface(mesh, face.chart)
    (few, small), (many, large) = counted
    assert many <= 4.05 * few
    assert large <= 1.2 * small


def test_triangles_outside_the_mask_region_take_no_part(marlo: Prepared, counted: list) -> None:
    """The back of the head in 16 times the triangles changes nothing."""
    head = marlo_head().mesh
    behind = (head.corners[..., 1] > 130.0).all(axis=1)
    heavy = finer(head, behind)
    heavy = finer(heavy, (heavy.corners[..., 1] > 130.0).all(axis=1))
    assert len(heavy.faces) > 1.5 * len(head.faces)
    for mesh in (head, heavy):
        run_to_end(prepare(mesh, bare_recipe()))
    # 1 %: the face is searched on other samples, so the frame differs by a hair
    assert counted[1][0] <= 1.01 * counted[0][0]
    assert counted[1][1] <= 1.01 * counted[0][1]


def test_body_is_no_heavier_on_a_finer_scan(marlo: Prepared) -> None:
    """Scans of 1 to 16 times the triangles with the same skin give bodies of the same size."""
    sizes = []
    mesh = marlo.skin
    for _ in range(3):
        face: FaceSurface = face_surface(mesh, marlo.face.chart)
        prepared = Prepared(face, marlo.landmarks, marlo.confidence, np.eye(4), "mm", 1.0, 1.0, mesh)
        sizes.append(len(run_to_end(design(prepared, bare_recipe(), "preview")).parts["body"].mesh.faces))
        mesh = finer(mesh)
    # 1 %: the same skin, rays that meet edges of other triangles
    assert sizes[1:] == pytest.approx([sizes[0]] * 2, rel=0.01)

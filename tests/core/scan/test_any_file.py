"""Properties of the readers: any small mesh comes back from every format as a general library wrote it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sealwright.errors import DesignError
from sealwright.mesh import TriMesh
from sealwright.scan.read.mesh_file import scan_from_bytes
from trials.damage_more import written

FORMATS = ("stl", "stl_ascii", "ply", "ply_ascii", "obj", "glb")


@st.composite
def meshes(draw) -> TriMesh:
    """A bent open sheet with random heights, at a random place and size, in any unit."""
    columns, rows = draw(st.integers(2, 6)), draw(st.integers(2, 6))
    seed, scale = draw(st.integers(0, 10_000)), draw(st.sampled_from([0.001, 1.0, 250.0]))
    random = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(columns + 1.0), np.arange(rows + 1.0))
    points = np.stack([x.ravel(), y.ravel(), random.normal(size=x.size)], axis=1)
    corner = (np.arange(columns)[None] + (columns + 1) * np.arange(rows)[:, None]).ravel()
    across = columns + 1
    faces = np.vstack(
        [
            np.stack([corner, corner + 1, corner + across + 1], axis=1),
            np.stack([corner, corner + across + 1, corner + across], axis=1),
        ]
    )
    return TriMesh(scale * (points + random.normal(size=3)), faces.astype(np.int32))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(mesh=meshes(), kind=st.sampled_from(FORMATS))
def test_any_mesh_comes_back(mesh: TriMesh, kind: str) -> None:
    found = scan_from_bytes(written(mesh, kind), kind.partition("_")[0], f"x.{kind}").mesh
    assert len(found.faces) == len(mesh.faces) and len(found.vertices) == len(mesh.vertices)
    # Formats hold single precision or eight digits: 1e-6 of the largest coordinate.
    slack = 1e-6 * np.abs(mesh.vertices).max()
    assert found.area == pytest.approx(mesh.area, rel=1e-4)
    for corners in (mesh.corners, found.corners):
        assert corners.shape == (len(mesh.faces), 3, 3)
    # Each triangle is there, with its corners in the same turning order.
    middle = found.corners.mean(axis=1)
    normal = np.cross(found.corners[:, 1] - found.corners[:, 0], found.corners[:, 2] - found.corners[:, 0])
    for corners in mesh.corners:
        nearest = int(np.argmin(np.linalg.norm(middle - corners.mean(axis=0), axis=1)))
        assert np.abs(middle[nearest] - corners.mean(axis=0)).max() < slack
        assert np.cross(corners[1] - corners[0], corners[2] - corners[0]) @ normal[nearest] > 0


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    mesh=meshes(),
    kind=st.sampled_from(FORMATS),
    other=st.sampled_from(("stl", "ply", "obj", "glb")),
    cut=st.floats(0.0, 1.0),
    changes=st.lists(st.tuples(st.floats(0.0, 1.0), st.integers(0, 255)), max_size=8),
)
def test_any_bytes_are_a_mesh_or_a_refusal(mesh, kind, other, cut, changes) -> None:
    """Bytes changed and cut anywhere, under any ending: finite triangles, or a reason."""
    data = bytearray(written(mesh, kind))
    for place, value in changes:
        data[int(place * (len(data) - 1))] = value
    try:
        found = scan_from_bytes(bytes(data[: int(cut * len(data)) + 1]), other, f"x.{other}").mesh
    except DesignError as refusal:
        assert refusal.what and refusal.fix and refusal.where.role
        return
    assert np.isfinite(found.vertices).all()
    assert found.faces.min() >= 0 and found.faces.max() < len(found.vertices)

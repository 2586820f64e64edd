"""The oracles that say yes to every sound part say no to a bad one."""

from __future__ import annotations

import numpy as np
import trimesh
from sealwright.mesh import TriMesh

from .oracles import is_manifold, pieces

BALL = trimesh.creation.icosphere(subdivisions=1)
POINTS, FACES = np.asarray(BALL.vertices, dtype=float), np.asarray(BALL.faces, dtype=np.int32)


def mesh(faces: np.ndarray) -> TriMesh:
    return TriMesh(np.vstack([POINTS, POINTS + 3.0]), faces.astype(np.int32))


def test_a_ball_is_one_manifold_and_two_are_two() -> None:
    assert pieces(mesh(FACES)) == 1 and is_manifold(mesh(FACES))
    two = mesh(np.vstack([FACES, FACES + len(POINTS)]))
    assert pieces(two) == 2 and is_manifold(two)


def test_balls_at_one_corner_and_a_fin_are_no_manifold() -> None:
    second = FACES + len(POINTS)
    touching = mesh(np.vstack([FACES, np.where(second == len(POINTS), 0, second)]))
    assert pieces(touching) == 2 and not is_manifold(touching)
    fin = np.array([[FACES[0, 0], FACES[0, 1], len(POINTS)]])
    assert not is_manifold(mesh(np.vstack([FACES, fin])))

"""Marlo, an invented wearer,."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.spatial.transform import Rotation
from sealwright.designing.prepared import Prepared
from sealwright.face.surface import face_chart, face_surface

from demo_scenes.procedural_head import ProceduralHead, make_head
from demo_scenes.wearers import MARLO


@cache
def marlo_head() -> ProceduralHead:
    """The head of the invented wearer Marlo, clean, 60,000 triangles, in the face frame."""
    return make_head(MARLO, 60_000)


@cache
def marlo_prepared() -> Prepared:
    """Marlo prepared from exact landmarks, without searching for the face."""
    head = marlo_head()
    size = float(np.linalg.norm(head.landmarks["sellion"] - head.landmarks["menton"])) / 115.0
    chart = face_chart(size)
    near = np.linalg.norm(head.mesh.vertices - chart.centre, axis=1) < 150.0 * size
    skin = head.mesh.submesh(near[head.mesh.faces].all(axis=1))
    sure = dict.fromkeys(head.landmarks, 1.0)
    return Prepared(face_surface(skin, chart), dict(head.landmarks), sure, np.eye(4), "mm", 1.0, 1.0, skin)


def random_pose(seed: int, shift_mm: float = 100.0) -> np.ndarray:
    """A seeded rigid transform (4, 4): any rotation (scipy) and a shift."""
    rng = np.random.default_rng(seed)
    pose = np.eye(4)
    pose[:3, :3] = Rotation.random(random_state=rng).as_matrix()
    pose[:3, 3] = rng.normal(scale=shift_mm, size=3)
    return pose

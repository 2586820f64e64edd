"""A crowd of invented heads: random proportions, a smile, an open jaw, with or without neck and shoulders.

Each head has the truth of its own landmarks: those of the head at rest, carried along by the expression as
marks drawn on the skin would be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.spatial.transform import Rotation
from sealwright.errors import NotConverged
from sealwright.mesh import Floats, Ints, TriMesh, trimesh_of

from .expression import Expression
from .head_grid import whole_sheet
from .head_landmarks import Landmarks, landmarks_of
from .head_warp import Warp
from .patches import face_patch, tidy, waves
from .procedural_head import Wearer, fitted_warp, sculpted
from .shoulders import with_shoulders

# Mean and spread of the drawn measures, mm: both sexes together (docs/standards section 1, rounded), a little
# wider than a population so that the ends are seen.
_DRAWN = {
    "face_length_mm": (118.0, 8.5),
    "face_width_mm": (139.0, 8.0),
    "nose_length_mm": (50.5, 4.2),
    "nose_breadth_mm": (35.0, 4.2),
    "nose_protrusion_mm": (20.0, 2.6),
    "lip_length_mm": (50.0, 4.4),
    "jaw_width_mm": (110.0, 8.0),
    "chin_forward_mm": (0.0, 2.6),
    "cheek_fullness_mm": (0.5, 2.0),
    "nose_hump_mm": (0.3, 1.0),
    "asymmetry_mm": (0.8, 0.9),
}
KINDS = ("head", "bust", "face", "close")
"""Whole head, with shoulders, face patch with ragged border, and one that ends at the brows."""


@dataclass(frozen=True, eq=False)
class CrowdHead:
    """One head of the crowd, in any pose.

    Attributes
    ----------
    mesh : mm, any pose.
    landmarks : name -> (3,), on the noiseless skin, in the pose of the mesh.
    kind : one of `KINDS`.
    wearer, expression, noise_mm : what was drawn.
    scan_from_face : (4, 4) rigid; the face frame has its origin at the subnasale of the head at rest.
    """

    mesh: TriMesh
    landmarks: Landmarks
    kind: str
    wearer: Wearer
    expression: Expression
    noise_mm: float
    scan_from_face: Floats


def crowd_head(seed: int, triangles: int = 30_000) -> CrowdHead:
    """The head of a number; the same number gives the same bytes.

    Parameters
    ----------
    seed : 0 and up.
    triangles : about how many the whole head would have.
    """
    rng = np.random.default_rng([seed, 7])
    kind = KINDS[seed % len(KINDS)]
    wearer, warp = _drawn_wearer(rng)
    expression = _drawn_expression(rng)
    vertices, faces = _sheet(triangles)
    rest = landmarks_of(sculpted()[1], warp)
    # Expressions know the sculpted head's places, so they come before the stretch to the wearer's measures.
    places = {name: warp.moved(expression.moved(_undone(warp, p)))[0] for name, p in rest.items()}
    places["stomion"] = _between_lips(rest["stomion"], expression, warp)
    opened = expression.parted(vertices, faces)
    faces = faces[tidy(faces, ~opened)] if opened.any() else faces
    origin = rest["subnasale"]
    mesh = trimesh_of(warp.moved(expression.moved(vertices)) - origin, faces, f"crowd {seed}")
    mesh = mesh.submesh(np.ones(len(mesh.faces), dtype=bool))
    mesh = _cut(mesh, kind, rng, seed)
    noise = float(rng.choice([0.0, 0.1, 0.2, 0.35]))
    mesh = _noisy(mesh, noise, rng)
    move = np.eye(4)
    move[:3, :3], move[:3, 3] = Rotation.from_quat(rng.normal(size=4)).as_matrix(), rng.uniform(-200, 200, 3)
    moved = {n: move[:3, :3] @ (p - origin) + move[:3, 3] for n, p in places.items()}
    return CrowdHead(mesh.moved(move), moved, kind, wearer, expression, noise, move)


def _drawn_wearer(rng: np.random.Generator) -> tuple[Wearer, Warp]:
    """Measures within the ranges of `Wearer` that go together on one face."""
    while True:
        size = rng.normal()  # large faces are large all over: half of each measure's variance is shared
        drawn = {}
        for key, (mean, spread) in _DRAWN.items():
            own = np.sqrt(0.5) * (size + rng.normal()) if mean > 10.0 else rng.normal()
            low, high = (
                Wearer.__dataclass_fields__[key].metadata["low"],
                Wearer.__dataclass_fields__[key].metadata["high"],
            )
            drawn[key] = float(np.clip(mean + spread * own, low, high))
        wearer = Wearer(name="Crowd", **drawn)
        try:
            return wearer, fitted_warp(wearer)
        except NotConverged:
            continue


def _drawn_expression(rng: np.random.Generator) -> Expression:
    """Half of the heads are at rest; the others smile or open the jaw, some do both."""
    jaw, smile = rng.uniform(2.0, 16.0), rng.uniform(2.0, 9.0)
    which = rng.choice(4, p=[0.5, 0.2, 0.2, 0.1])
    return Expression(jaw if which in (1, 3) else 0.0, smile if which in (2, 3) else 0.0)


@lru_cache(maxsize=2)
def _sheet(triangles: int) -> tuple[Floats, Ints]:
    return whole_sheet(sculpted()[0], triangles)


def _undone(warp: Warp, place: Floats) -> Floats:
    """The place (1, 3) of the sculpted head that the stretch moves to ``place`` (3,): fixed-point rounds."""
    p: Floats = np.array(place, dtype=float)[None]
    for _ in range(60):
        p = p + 0.7 * (place - warp.moved(p))
    return p


def _between_lips(stomion: Floats, expression: Expression, warp: Warp) -> Floats:
    """Middle (3,) between upper and lower lip where they met, which is stomion of an open mouth too."""
    at = _undone(warp, stomion)
    lips = at + np.array([[0.0, 0.0, 1.5], [0.0, 0.0, -1.5]])
    return np.asarray(warp.moved(expression.moved(lips)).mean(axis=0))


def _cut(mesh: TriMesh, kind: str, rng: np.random.Generator, seed: int) -> TriMesh:
    """What of the head the scan shows."""
    if kind == "bust":
        return with_shoulders(mesh, float(rng.uniform(0.85, 1.15)))
    if kind == "face":
        return face_patch(mesh, 4.0, seed)
    if kind == "close":
        middle = mesh.corners.mean(axis=1)
        low = mesh.vertices[:, 2].min() + 40.0
        oval = np.hypot(
            middle[:, 0] / rng.uniform(62.0, 75.0), (middle[:, 2] + 2.0) / rng.uniform(76.0, 90.0)
        )
        keep = (oval + 0.03 * waves(middle, 9.0, rng) < 1.0) & (middle[:, 1] < 70.0) & (middle[:, 2] > low)
        return mesh.submesh(tidy(mesh.faces, keep))
    return mesh


def _noisy(mesh: TriMesh, noise_mm: float, rng: np.random.Generator) -> TriMesh:
    """Wavy and white error along the normals, each of this root mean square."""
    if noise_mm == 0.0:
        return mesh
    error = noise_mm * (waves(mesh.vertices, 10.0, rng) + rng.normal(size=len(mesh.vertices)))
    return TriMesh(mesh.vertices + error[:, None] * mesh.vertex_normals, mesh.faces)

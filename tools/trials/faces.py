"""The open face data beside the checkout, loaded once, and truth points for it."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.scan.landmarks.landmark_set import Landmarks
from sealwright.scan.landmarks.proposal import propose_landmarks
from sealwright.scan.pose.orient import find_face
from sealwright.scan.pose.pose import Pose

from .places import open_data

HEADS = ("head-mean", "head-a", "head-b", "head-c", "head-a-jaw-open")
SENSORS = ("sensor-scan-a", "sensor-scan-b")
VARIED = tuple(f"varied/varied-{number:02d}" for number in range(40))
"""Forty more heads: the even half may be learnt from, the odd half is only measured on."""
COMPOSITES = ("face-f26", "face-m36", "face-f66")
OTHERS = ("raw-scan-a", "sculpt-a", "sculpt-small-closed")

# Places in the 68-point order common to open landmark sets (from memory): 27 top of the nose bridge, 30 tip,
# 33 nose base, 8 chin, 48 and 54 mouth corners, 31 and 35 outer ends of the nostril base.
OF_68 = {
    "sellion": 27,
    "pronasale": 30,
    "subnasale": 33,
    "menton": 8,
    "cheilion_right": 48,
    "cheilion_left": 54,
    "subalare_right": 31,
    "subalare_left": 35,
    "exocanthion_right": 36,
    "endocanthion_right": 39,
    "endocanthion_left": 42,
    "exocanthion_left": 45,
}


def scan_path(name: str) -> Path:
    """Path of a scan of the open face data."""
    return open_data(name)


@cache
def _load(path: Path) -> TriMesh:
    import trimesh

    loaded = trimesh.load(path, process=False)
    loaded.merge_vertices()
    return trimesh_of(loaded.vertices, loaded.faces, path.name)


def face_scan(name: str) -> TriMesh:
    """One scan of the open face data, mm, corners merged."""
    return _load(scan_path(name))


@cache
def truth(name: str) -> dict[str, np.ndarray]:
    """Truth landmarks of a scan in scan coordinates, mm.

    The truth files call the outer ends of the nostril base "alare": points 31 and 35 of the 68. They lie 25
    mm apart where the survey mean of nose breadth (alare-alare) is 33 to 37 mm (docs/standards 1.2), so they
    are compared with subalare, which is what they are.
    """
    if name in SENSORS:
        data = json.loads(scan_path(name).with_suffix(".json").read_text())
        pose = np.array(data["scan_from_face_4x4_mm"])
        points = np.array(data["face_landmarks68_mm"]) @ pose[:3, :3].T + pose[:3, 3]
        return {key: points[index] for key, index in OF_68.items()}
    if name in VARIED:
        folder, _, file = name.partition("/")
        data = json.loads(open_data(f"{folder}/landmarks.json").read_text())[f"{file}.ply"]["landmarks"]
    else:
        data = json.loads(open_data("landmarks.json").read_text())[f"{name}.ply"]
    renamed = {key.replace("_approx", "").replace("alare", "subalare"): p for key, p in data.items()}
    return {key: np.array(point) for key, point in renamed.items()}


def random_pose(seed: int) -> np.ndarray:
    """A seeded rigid transform (4, 4): any rotation and a shift of some 100 mm."""
    rng = np.random.default_rng(seed)
    out = np.eye(4)
    out[:3, :3] = Rotation.random(random_state=rng).as_matrix()
    out[:3, 3] = rng.normal(scale=100.0, size=3)
    return out


MIRROR = np.diag([-1.0, 1.0, 1.0, 1.0])
MOVES = {"as it is": np.eye(4), "moved": random_pose(2), "mirrored": MIRROR}


@cache
def found(name: str, move: str = "as it is") -> tuple[Pose, Landmarks]:
    """Pose and proposed landmarks of a scan, as it is, moved by a random pose or mirrored."""
    mesh = face_scan(name).moved(MOVES[move])
    pose = find_face(mesh)
    return pose, propose_landmarks(mesh, pose)

"""Randomly cropped and tilted scans of the open heads and of invented ones, one for each seed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.spatial import cKDTree
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.mesh import Floats, TriMesh
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.scan.landmark_names import DEFINITIONS

from .faces import COMPOSITES, HEADS, face_scan, random_pose

OPEN_HEADS = (*HEADS, *COMPOSITES)
INVENTED = 8
_ON_SKIN_MM = 2.0


@dataclass(frozen=True, eq=False)
class Crop:
    """A cropped scan in a random pose, mm, with the landmarks of the whole head that lie on what is left.

    Attributes
    ----------
    seed, made : its number, and how it was cropped, in words.
    mesh : the scan.
    landmarks : name -> (3,) in the pose of the mesh.
    """

    seed: int
    made: str
    mesh: TriMesh
    landmarks: dict[str, Floats]


@cache
def whole(name: str) -> Prepared:
    """A whole head in its face frame; "invented 3" is one of the procedural crowd."""
    if not name.startswith("invented"):
        return run_to_end(prepare(face_scan(name), Recipe(), adult=True))
    from demo_scenes.crowd import crowd_head

    # Heads with a face patch of their own would be cropped twice: the first with a whole skull are taken.
    wanted, number = int(name.split()[1]), 0
    for seed in range(5000, 5200):
        head = crowd_head(seed)
        if head.kind in ("head", "bust"):
            if number == wanted:
                known = {n: p for n, p in head.landmarks.items() if n in DEFINITIONS and n != "stomion"}
                return run_to_end(prepare(head.mesh, Recipe(), known, adult=True))
            number += 1
    raise LookupError(name)


def names() -> tuple[str, ...]:
    """All heads that crops are made of."""
    return (*OPEN_HEADS, *(f"invented {number}" for number in range(INVENTED)))


def crop_of(seed: int) -> Crop:
    """The cropped and tilted scan of a seed.

    The sensor sees the head from up to 30 degrees to the side, above or below, and no skin that it would see
    edge-on; then sides, top and bottom are cut off by planes, and sometimes a hole is torn.
    """
    rng = np.random.default_rng(seed)
    heads = names()
    name = heads[seed % len(heads)]
    head = whole(name)
    skin, marks = head.skin, {n: np.asarray(p) for n, p in head.landmarks.items()}
    turn, nod = np.radians(rng.uniform(-30.0, 30.0)), np.radians(rng.uniform(-30.0, 30.0))
    view = np.array([np.sin(turn) * np.cos(nod), -np.cos(turn) * np.cos(nod), np.sin(nod)])
    centre = skin.corners.mean(axis=1)
    keep = skin.face_normals @ view > 0.1
    left, right = rng.uniform(34.0, 80.0, size=2)
    low, high = marks["menton"][2] + rng.uniform(-35.0, 12.0), marks["sellion"][2] + rng.uniform(-8.0, 40.0)
    keep &= (centre[:, 0] < left) & (centre[:, 0] > -right) & (centre[:, 2] > low) & (centre[:, 2] < high)
    made = f"{name}, seen {np.degrees(turn):+.0f} across and {np.degrees(nod):+.0f} up, left {left:.0f}, "
    made += f"right {right:.0f}, low {low:.0f}, high {high:.0f}"
    if rng.random() < 0.4:
        place = centre[keep][int(rng.integers(int(keep.sum())))]
        hole = rng.uniform(4.0, 14.0)
        keep &= np.linalg.norm(centre - place, axis=1) > hole
        made += f", hole of {hole:.0f} at ({place[0]:.0f}, {place[1]:.0f}, {place[2]:.0f})"
    part = skin.submesh(keep)
    away, _ = cKDTree(part.vertices).query(np.array(list(marks.values())))
    move = random_pose(seed)
    on = {
        n: move[:3, :3] @ p + move[:3, 3]
        for (n, p), far in zip(marks.items(), away, strict=True)
        if far < _ON_SKIN_MM
    }
    return Crop(seed, made, part.moved(move), on)

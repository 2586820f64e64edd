"""The scans of the main job: two of an invented wearer, and every file of the open face data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import trimesh
from bare import bare_recipe
from scipy.spatial import cKDTree
from sealwright.designing.design import Design
from sealwright.designing.prepare import design
from sealwright.designing.prepared import Prepared
from sealwright.jobs.make import Source, prepare_source
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from trials.places import open_data

from demo_scenes.sensor import capture

from .wearers import marlo_head, random_pose

CLEAN = ("head-mean", "head-a", "head-b", "head-c", "head-a-jaw-open")
COMPOSITES = ("face-f26", "face-m36", "face-f66")
NOISY = ("sensor-scan-a", "sensor-scan-b", "raw-scan-a")
SCULPTS = ("sculpt-a",)  # the child-sized one is refused, see scan/test_plausible.py
OWN = ("marlo", "marlo-by-phone")
EVERY = OWN + CLEAN + COMPOSITES + NOISY + SCULPTS


@dataclass(frozen=True, eq=False)
class Case:
    """A scan and its default design.

    Attributes
    ----------
    name, path : the scan file.
    scan : the file as another library reads it, put into the design frame by ``scan_to_design``, without the
        triangles at spikes and scraps that cleaning changed and said so.
    prepared, design : what we made of it.
    """

    name: str
    path: Path
    scan: trimesh.Trimesh
    prepared: Prepared
    design: Design

    @cached_property
    def reachable(self) -> trimesh.Trimesh:
        """The scan without skin that a rigid body put on from the front cannot touch, as under a nose wing.

        That is skin that faces the middle of the head, or has other skin in front of it (embree's rays).
        """
        middle = self.scan.triangles_center
        ray = middle - self.prepared.face.chart.centre
        facing = np.flatnonzero((self.scan.face_normals * ray).sum(axis=1) > 0.0)
        ray = ray[facing] / np.linalg.norm(ray[facing], axis=1, keepdims=True)
        covered = self.scan.ray.intersects_any(middle[facing] + 1e-3 * ray, ray)
        return trimesh.Trimesh(self.scan.vertices, self.scan.faces[facing[~covered]], process=False)

    @property
    def bound_mm(self) -> float:
        """Stated bound of the smoothing."""
        return self.prepared.face.smoothing.bound_mm


def scan_path(name: str, folder: Path) -> Path:
    """Path of a scan file; Marlo's are written to the folder."""
    if name in OWN:
        return _marlo_file(name, folder)
    return open_data(name)


def _marlo_file(name: str, folder: Path) -> Path:
    """Marlo in metres and any pose, or as a phone sees him; exact float64 PLY would be larger than needed."""
    head = marlo_head()
    if name == "marlo":
        pose = random_pose(11)
        pose[:3] /= 1000.0
        mesh = head.mesh.moved(pose)
    else:
        mesh = capture(head).mesh
    path = folder / f"{name}.ply"
    trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(path)
    return path


def case_of(name: str, folder: Path, recipe: Recipe | None = None, quality: str = "final") -> Case:
    """Read, prepare and design a scan."""
    path, recipe = scan_path(name, folder), recipe or bare_recipe()
    prepared = run_to_end(prepare_source(Source(path), recipe))
    made = run_to_end(design(prepared, recipe, quality))
    scan = trimesh.load(path, process=False)
    scan.merge_vertices()
    scan.apply_transform(prepared.scan_to_design)
    return Case(name, path, unchanged(scan, prepared), prepared, made)


def unchanged(scan: trimesh.Trimesh, prepared: Prepared) -> trimesh.Trimesh:
    """The scan without the triangles next to vertices that cleaning moved or dropped; few may be.

    A spike's neighbours are still lifted by it, and smoothed down further than its bound: one ring more goes.
    """
    away, _ = cKDTree(prepared.skin.vertices).query(scan.vertices)
    near = np.linalg.norm(scan.vertices - prepared.face.chart.centre, axis=1) < 90.0 * prepared.size
    changed = near & (away > 1e-6)
    # 1 %: spikes and one island of the noisiest scan are 0.7 % of its vertices near the face
    assert changed.sum() < 0.01 * near.sum()
    changed[scan.faces[changed[scan.faces].any(axis=1)]] = True
    keep = ~changed[scan.faces].any(axis=1)
    return trimesh.Trimesh(scan.vertices, scan.faces[keep], process=False)


def on_scan(case: Case, points: np.ndarray) -> np.ndarray:
    """Which points (..., 3) have scanned skin at their place: no filled hole, no mended spike."""
    shape, points = points.shape[:-1], points.reshape(-1, 3)
    ray = points - case.prepared.face.chart.centre
    ray = ray / np.linalg.norm(ray, axis=1, keepdims=True)
    met = case.scan.ray.intersects_any(points + 30.0 * ray, -ray)
    measured = case.prepared.face.is_measured(case.prepared.face.chart.place_of(points)[0])
    return (met & measured).reshape(shape)


def finer(grid: np.ndarray) -> np.ndarray:
    """A grid (n, k, 3) closed along its stations with midpoints put in both ways: (2 n, 2 k - 1, 3)."""
    n, k = grid.shape[:2]
    out = np.empty((2 * n, 2 * k - 1, 3))
    out[::2, ::2] = grid
    out[::2, 1::2] = (grid[:, 1:] + grid[:, :-1]) / 2
    out[1::2] = (out[::2] + np.roll(out[::2], -1, axis=0)) / 2
    return out

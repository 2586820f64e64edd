"""The scans of the main job: two of an invented wearer, and every file of the open face data."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import trimesh
from sealwright.design import Design
from sealwright.make import Source, prepare_source
from sealwright.pipeline import design
from sealwright.prepared import Prepared
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe

from demo_scenes.sensor import capture

from .wearers import SCANS, marlo_head, random_pose

CLEAN = ("head-mean", "head-a", "head-b", "head-c", "head-a-jaw-open")
COMPOSITES = ("face-f26", "face-m36", "face-f66")
NOISY = ("sensor-scan-a", "sensor-scan-b", "raw-scan-a")
SCULPTS = ("sculpt-a", "sculpt-small-closed")
OWN = ("marlo", "marlo-by-phone")
EVERY = OWN + CLEAN + COMPOSITES + NOISY + SCULPTS


@dataclass(frozen=True, eq=False)
class Case:
    """A scan and its default design.

    Attributes
    ----------
    name, path : the scan file.
    scan : the file as another library reads it, put into the design frame by ``scan_to_design``.
    prepared, design : what we made of it.
    """

    name: str
    path: Path
    scan: trimesh.Trimesh
    prepared: Prepared
    design: Design

    @property
    def bound_mm(self) -> float:
        """Stated bound of the smoothing."""
        return self.prepared.face.smoothing.bound_mm


def scan_path(name: str, folder: Path) -> Path:
    """Path of a scan file; Marlo's are written to the folder, absent open data skip the test."""
    if name in OWN:
        return _marlo_file(name, folder)
    for ending in ("ply", "stl"):
        path = SCANS / f"{name}.{ending}"
        if path.is_file():
            return path
    pytest.skip(f"the open face data ({name}) are not beside this checkout")


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
    path, recipe = scan_path(name, folder), recipe or Recipe()
    prepared = run_to_end(prepare_source(Source(path), recipe))
    made = run_to_end(design(prepared, recipe, quality))
    scan = trimesh.load(path, process=False)
    scan.merge_vertices()
    scan.apply_transform(prepared.scan_to_design)
    return Case(name, path, scan, prepared, made)


def finer(grid: np.ndarray) -> np.ndarray:
    """A grid (n, k, 3) closed along its stations with midpoints put in both ways: (2 n, 2 k - 1, 3)."""
    n, k = grid.shape[:2]
    out = np.empty((2 * n, 2 * k - 1, 3))
    out[::2, ::2] = grid
    out[::2, 1::2] = (grid[:, 1:] + grid[:, :-1]) / 2
    out[1::2] = (out[::2] + np.roll(out[::2], -1, axis=0)) / 2
    return out

"""Preparing a scan against one Boolean on the same scan in the same run, and the memory of a very large one.

``python benchmarks/prepare_scan.py`` takes a scan of 200,000 triangles and one of five million; every
measurement has a process of its own. Two Booleans are compared with: the manifold library called directly on
the closed head, its triangles handed over as arrays; and, with ``--blender-python PYTHON``, Blender's own
Boolean on the thickened scan (a Python that has the bpy module). Wanted: at most 1.0 of the time of a native
Boolean at 200,000 triangles, and at most 4 GiB at five million.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from timing import best_of, peak_memory_mib

SIZE, HUGE = 200_000, 5_000_000
WANTED_RATIO, WANTED_GIB = 1.0, 4.0


def write_scan(triangles: int, path: Path) -> None:
    """The procedural head of the demo scenes at a resolution, as binary STL."""
    from trimesh import Trimesh
    from trimesh.remesh import subdivide

    from demo_scenes.procedural_head import make_head
    from demo_scenes.wearers import MARLO

    mesh = make_head(MARLO, min(triangles, 1_250_000)).mesh
    vertices, faces = mesh.vertices, mesh.faces
    while len(faces) < triangles:  # finer than the sculpt is worth: every triangle in four
        vertices, faces = subdivide(vertices, faces)
    Trimesh(vertices, faces, process=False).export(path)


def measure_prepare(path: Path, runs: int) -> dict[str, Any]:
    """Seconds to read and to prepare a scan, and the peak memory of doing both."""
    from sealwright.designing.prepare import prepare
    from sealwright.progress import run_to_end
    from sealwright.recipe import Recipe
    from sealwright.scan.read.mesh_file import read_scan

    scan = read_scan(path).mesh
    reading = best_of(1, lambda: read_scan(path))
    work = best_of(runs, lambda: run_to_end(prepare(scan, Recipe())))
    return {
        "triangles": len(scan.faces),
        "read_s": reading.wall_s,
        "prepare_s": work.wall_s,
        "prepare_cpu_s": work.cpu_s,
        "memory_gib": (peak_memory_mib() or 0.0) / 1024.0,
    }


def measure_manifold(path: Path, runs: int) -> dict[str, Any]:
    """Seconds of one Boolean by the manifold library: the closed head less a rod through the mouth."""
    from manifold3d import Manifold, Mesh64
    from sealwright.scan.read.mesh_file import read_scan

    scan = read_scan(path).mesh
    vertices, faces = closed(scan.vertices, scan.faces)
    rod = Manifold.cylinder(60.0, 16.0, circular_segments=96).rotate([90.0, 0.0, 0.0])

    def boolean() -> None:
        cut = Manifold(Mesh64(vertices, faces.astype(np.uint64))) - rod
        if cut.is_empty() or len(cut.to_mesh64().tri_verts) == len(faces):
            raise RuntimeError(f"The Boolean did nothing: {cut.status()}")

    work = best_of(runs, boolean)
    return {"boolean_s": work.wall_s, "boolean_cpu_s": work.cpu_s}


def closed(vertices: np.ndarray, faces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The head with its open neck closed by a fan of triangles."""
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    one_way = edges[:, 0].astype(np.int64) << 32 | edges[:, 1]
    other = edges[:, 1].astype(np.int64) << 32 | edges[:, 0]
    border = edges[~np.isin(one_way, other)]
    fan = np.column_stack([border[:, 1], border[:, 0], np.full(len(border), len(vertices))])
    middle = vertices[border.ravel()].mean(axis=0)
    return np.vstack([vertices, middle]), np.vstack([faces, fan])


def measured(kind: str, path: Path, runs: int) -> dict[str, Any]:
    """One measurement in a process of its own."""
    command = [sys.executable, __file__, "--measure", kind, "--scan", str(path), "--runs", str(runs)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def blender_boolean(python: str, path: Path, runs: int) -> float:
    """Seconds of one of Blender's own Booleans on the thickened scan."""
    from sealwright.scan.read.mesh_file import read_scan
    from versus_native import run

    mesh = read_scan(path).mesh
    arrays = path.with_suffix(".npz")
    np.savez(arrays, vertices=mesh.vertices, faces=mesh.faces)
    found = run(python, "contender_native.py", arrays, ["--solver", "MANIFOLD", "--runs", str(runs)])
    return float(found["solidify_and_union"]["wall_s"] - found["solidify"]["wall_s"])


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--runs", type=int, default=3, help="the best of so many")
    parser.add_argument("--huge", type=int, default=HUGE, help="triangles of the large scan; 0 for none")
    parser.add_argument("--blender-python", help="a Python with the bpy module")
    parser.add_argument("--measure", choices=("prepare", "manifold"), help=argparse.SUPPRESS)
    parser.add_argument("--scan", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.measure:
        work = measure_prepare if asked.measure == "prepare" else measure_manifold
        print(json.dumps(work(asked.scan, asked.runs)))
        return 0
    good = True
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scan.stl"
        write_scan(SIZE, path)
        ours, theirs = measured("prepare", path, asked.runs), measured("manifold", path, asked.runs)
        print(
            f"{ours['triangles']:,} triangles: read {ours['read_s']:.2f} s, prepare {ours['prepare_s']:.2f} s"
        )
        print(f"manifold library, one Boolean: {theirs['boolean_s']:.2f} s; "
              f"ratio {ours['prepare_s'] / theirs['boolean_s']:.2f}")  # fmt: skip
        if asked.blender_python:
            native = blender_boolean(asked.blender_python, path, asked.runs)
            ratio = ours["prepare_s"] / native
            good &= ratio <= WANTED_RATIO
            print(f"Blender, one Boolean: {native:.2f} s; ratio {ratio:.2f}, wanted at most {WANTED_RATIO:g}")
        if asked.huge:
            write_scan(asked.huge, path)
            large = measured("prepare", path, 1)
            good &= large["memory_gib"] <= WANTED_GIB
            print(f"{large['triangles']:,} triangles: read {large['read_s']:.1f} s, prepare "
                  f"{large['prepare_s']:.1f} s, {large['memory_gib']:.2f} GiB, wanted at most "
                  f"{WANTED_GIB:g}")  # fmt: skip
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())

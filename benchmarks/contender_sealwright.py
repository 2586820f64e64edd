"""Sealwright on one scan: prepare, build, change one value of the shell. Runs where Sealwright is installed.

python contender_sealwright.py SCAN.npz --runs 3

Prints one JSON object: seconds per stage and step, peak memory, and what is wrong with the result. The scan
is already an array when the clock starts, as Blender's own way has it as a mesh.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import time
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
from sealwright.designing.prepare import Design, Prepared, StageCache, design, prepare
from sealwright.mesh import TriMesh, edge_use, trimesh_of
from sealwright.progress import Job, run_to_end
from sealwright.recipe import Recipe
from timing import best_of, peak_memory_mib

WALL_MM, EDITED_WALL_MM = 2.4, 2.0


def recipe_with_wall(wall_mm: float) -> Recipe:
    """The default recipe with another wall: the one value the edit changes."""
    recipe = Recipe()
    return dataclasses.replace(recipe, chamber=dataclasses.replace(recipe.chamber, wall_mm=wall_mm))


def seconds_per_step(job: Job[Any]) -> dict[str, float]:
    """Wall seconds each step of a job took, in order."""
    stamps: list[tuple[str, float]] = []
    run_to_end(job, lambda step: stamps.append((step.label, time.perf_counter())))
    ends = [when for _, when in stamps[1:]] + [time.perf_counter()]
    return {label: end - start for (label, start), end in zip(stamps, ends, strict=True)}


def faults(result: Design) -> dict[str, float]:
    """Triangle count of the body, edges that do not join exactly two faces, and volume, mm3."""
    mesh = result.parts["body"].mesh
    _, forward, backward = edge_use(mesh.faces)
    bad = int(((forward != 1) | (backward != 1)).sum())
    return {"triangles": len(mesh.faces), "bad_edges": bad, "volume_mm3": mesh.volume}


def edit_time(prepared: Prepared, quality: str, runs: int) -> dict[str, float]:
    """Change the wall of a design whose stages are cached."""
    cache = StageCache()
    recipes = cycle([recipe_with_wall(EDITED_WALL_MM), recipe_with_wall(WALL_MM)])
    run_to_end(design(prepared, recipe_with_wall(WALL_MM), quality, cache=cache))
    timing = best_of(runs, lambda: run_to_end(design(prepared, next(recipes), quality, cache=cache)))
    return dataclasses.asdict(timing)


def measure(scan: TriMesh, runs: int, prepare_only: bool) -> dict[str, object]:
    """All times of Sealwright on one scan."""
    recipe = recipe_with_wall(WALL_MM)
    loaded = peak_memory_mib()

    def fresh() -> TriMesh:
        return TriMesh(scan.vertices, scan.faces)  # without the normals a former run has cached

    prepared = run_to_end(prepare(fresh(), recipe))
    prepared_timing = best_of(runs, lambda: run_to_end(prepare(fresh(), recipe)))
    answer: dict[str, object] = {"prepare": dataclasses.asdict(prepared_timing), "memory_loaded_mib": loaded}
    if not prepare_only:

        def build() -> Design:
            return run_to_end(design(run_to_end(prepare(fresh(), recipe)), recipe))

        answer["build"] = dataclasses.asdict(best_of(runs, build))
        answer["edit"] = edit_time(prepared, "final", runs)
        answer["edit_preview"] = edit_time(prepared, "preview", runs)
        answer["steps_s"] = seconds_per_step(prepare(fresh(), recipe)) | seconds_per_step(
            design(prepared, recipe)
        )
        answer["result"] = faults(run_to_end(design(prepared, recipe)))
    answer["memory_peak_mib"] = peak_memory_mib()
    return answer


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scan", type=Path)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--prepare-only", action="store_true")
    asked = parser.parse_args()
    with np.load(asked.scan) as arrays:
        loaded_scan = trimesh_of(arrays["vertices"], arrays["faces"], "scan")
    print("RESULT " + json.dumps(measure(loaded_scan, asked.runs, asked.prepare_only)))

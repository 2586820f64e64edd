"""Blender's own way: Solidify the scan, unite with a boss, cut the bore. Runs where ``import bpy`` works.

python contender_native.py SCAN.npz --solver MANIFOLD --runs 3

Prints one JSON object: seconds per step, peak memory, and what is wrong with the result. The scan is already
a Blender mesh when the clock starts, as Sealwright's is already an array.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
from pathlib import Path

import bpy
import numpy as np
from timing import best_of, peak_memory_mib

WALL_MM, EDITED_WALL_MM = 2.4, 2.0
BOSS_MM, BORE_MM = 20.0, 16.0  # radii
MOUTH = (0.0, -10.0, -22.0)  # middle of the boss in the face frame, mm


def mesh_from(vertices: np.ndarray, faces: np.ndarray) -> bpy.types.Mesh:
    """A Blender mesh; one Blender unit is one millimetre here."""
    mesh = bpy.data.meshes.new("scan")
    mesh.vertices.add(len(vertices))
    mesh.vertices.foreach_set("co", vertices.astype(np.float32).ravel())
    mesh.loops.add(faces.size)
    mesh.loops.foreach_set("vertex_index", faces.astype(np.int32).ravel())
    mesh.polygons.add(len(faces))
    mesh.polygons.foreach_set("loop_start", np.arange(0, faces.size, 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    return mesh


def cylinder(name: str, radius: float, depth: float) -> bpy.types.Object:
    """A 96-sided rod along the face's own axis through the mouth."""
    bpy.ops.mesh.primitive_cylinder_add(
        vertices=96, radius=radius, depth=depth, location=MOUTH, rotation=(np.pi / 2, 0.0, 0.0)
    )
    rod = bpy.context.object
    rod.name = name
    rod.hide_set(True)
    return rod


def add_boolean(scan: bpy.types.Object, operation: str, other: bpy.types.Object, solver: str) -> None:
    boolean = scan.modifiers.new(operation.title(), "BOOLEAN")
    boolean.operation, boolean.object, boolean.solver = operation, other, solver


def evaluate(scan: bpy.types.Object) -> bpy.types.Object:
    """Make Blender work out the modifiers now."""
    scan.update_tag()
    bpy.context.view_layer.update()
    return scan.evaluated_get(bpy.context.evaluated_depsgraph_get())


def faults(result: bpy.types.Object) -> dict[str, float]:
    """Triangle count, edges that do not join exactly two faces, and signed volume, mm3."""
    mesh = result.data
    mesh.calc_loop_triangles()
    corners = np.empty(len(mesh.loop_triangles) * 3, dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", corners)
    points = np.empty(len(mesh.vertices) * 3, dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    triangles = points.reshape(-1, 3).astype(np.float64)[corners.reshape(-1, 3)]
    edges = np.empty(len(mesh.loops), dtype=np.int32)
    mesh.loops.foreach_get("edge_index", edges)
    volume = np.einsum("ij,ij->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])) / 6.0
    bad = int((np.bincount(edges, minlength=len(mesh.edges)) != 2).sum())
    return {"triangles": len(triangles), "bad_edges": bad, "volume_mm3": float(volume)}


def thickened(data: bpy.types.Mesh, wall_mm: float) -> bpy.types.Object:
    """A fresh object of a scan, thickened by Blender's own modifier; the one before is removed."""
    scene = bpy.context.scene.collection.objects
    for old in [o for o in scene if o.name.startswith("scan")]:
        bpy.data.objects.remove(old)
    scan = bpy.data.objects.new("scan", data)
    scene.link(scan)
    thicken = scan.modifiers.new("Wall", "SOLIDIFY")
    thicken.thickness, thicken.offset = wall_mm, 1.0
    return scan


def measure(vertices: np.ndarray, faces: np.ndarray, solver: str, runs: int) -> dict[str, object]:
    """All times of the native way on one scan."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    data = mesh_from(vertices, faces)
    boss, bore = cylinder("boss", BOSS_MM, 50.0), cylinder("bore", BORE_MM, 90.0)
    loaded = peak_memory_mib()

    def build(operations: tuple[tuple[str, bpy.types.Object], ...]) -> bpy.types.Object:
        scan = thickened(data, WALL_MM)
        for operation, other in operations:
            add_boolean(scan, operation, other, solver)
        evaluate(scan)
        return scan

    both = (("UNION", boss), ("DIFFERENCE", bore))
    shell = best_of(runs, lambda: build(()))
    one = best_of(runs, lambda: build(both[:1]))
    full = best_of(runs, lambda: build(both))
    scan = build(both)
    thickness = iter([EDITED_WALL_MM, WALL_MM] * runs)

    def edit() -> None:
        scan.modifiers["Wall"].thickness = next(thickness)
        evaluate(scan)

    edited = best_of(runs, edit)
    return {
        "solver": solver,
        "blender": bpy.app.version_string,
        "solidify": dataclasses.asdict(shell),
        "solidify_and_union": dataclasses.asdict(one),
        "build": dataclasses.asdict(full),
        "edit": dataclasses.asdict(edited),
        "memory_loaded_mib": loaded,
        "memory_peak_mib": peak_memory_mib(),
        "result": faults(evaluate(scan)),
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scan", type=Path)
    parser.add_argument("--solver", default="MANIFOLD", choices=("MANIFOLD", "EXACT", "FLOAT"))
    parser.add_argument("--runs", type=int, default=3)
    asked = parser.parse_args()
    with np.load(asked.scan) as arrays:
        answer = measure(arrays["vertices"], arrays["faces"], asked.solver, asked.runs)
    print("RESULT " + json.dumps(answer))

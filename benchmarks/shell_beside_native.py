"""A full-face shell against Blender's own Solidify and one Boolean on the same patch, in the same run.

``python benchmarks/shell_beside_native.py --blender-python PYTHON`` (a Python that has the bpy module). The
patch is the skin of the demonstration's full-face shell, cut out of a scan of 200,000 triangles; the Boolean
(solver MANIFOLD) cuts both eyes. Ours goes from the prepared wearer to the finished shell with openings for
eyes and mouth and strap slots; with ``measured`` it is also checked and held against all its limits. Wanted:
at most 1.0 of the time.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from timing import Timing, best_of

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[1] / "core")]
SIZE, WANTED_RATIO = 200_000, 1.0
THICKNESS_MM, EYE_MM = 2.4, 16.0


def ring(count: int = 72) -> np.ndarray:
    """Outline (count, 2) of the full-face shell in the front view, mm."""
    from demo_scenes.own_scenes import FULL_FACE

    wide, top, low = FULL_FACE
    turns = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    return np.column_stack([wide * np.sin(turns), 0.5 * (top + low) + 0.5 * (top - low) * np.cos(turns)])


def write_patch(path: Path) -> None:
    """The head, and the triangles of its face within the outline, as arrays."""
    from sealwright.solids.polygon import closed_edges, inside_edges

    from demo_scenes.procedural_head import make_head
    from demo_scenes.wearers import MARLO

    mesh = make_head(MARLO, SIZE).mesh
    middles, normals = mesh.corners.mean(axis=1), mesh.face_normals
    seen = (normals[:, 1] < 0.0) & (middles[:, 1] < 60.0)
    patch = mesh.faces[seen & inside_edges(middles[:, ::2], closed_edges(ring()))]
    used, faces = np.unique(patch, return_inverse=True)
    np.savez(
        path,
        vertices=mesh.vertices,
        faces=mesh.faces,
        patch_vertices=mesh.vertices[used],
        patch_faces=faces.reshape(-1, 3),
    )


def ours(path: Path, runs: int) -> dict[str, Any]:
    """Seconds of the shell alone, and of the shell with its checks."""
    from sealwright.designing.own import shell_design
    from sealwright.designing.prepare import prepare
    from sealwright.mesh import trimesh_of
    from sealwright.own_shapes.ground import Look, skin_under
    from sealwright.own_shapes.openings import landmark_holes
    from sealwright.own_shapes.outline import Outline
    from sealwright.own_shapes.outline_file import DrawnLines
    from sealwright.own_shapes.settings import HoleSettings, ShellSettings
    from sealwright.own_shapes.shell import conformal_shell
    from sealwright.progress import run_to_end
    from sealwright.recipe import Recipe

    with np.load(path) as arrays:
        scan = trimesh_of(arrays["vertices"], arrays["faces"], "scan")
    eyes = HoleSettings(at="eyes", width_mm=36.0)
    mouth = HoleSettings(at="mouth", width_mm=50.0, height_mm=20.0)
    settings = ShellSettings(thickness_mm=THICKNESS_MM, holes=(eyes, mouth))
    recipe = dataclasses.replace(Recipe(), kind="shell", shell=settings)
    prepared = run_to_end(prepare(scan, recipe))
    flat = ring()
    near = scan.vertices[(scan.vertices[:, 1] < 60.0)]
    from scipy.spatial import cKDTree

    drawn = near[cKDTree(near[:, ::2]).query(flat)[1]]
    in_face = drawn @ prepared.scan_to_design[:3, :3].T + prepared.scan_to_design[:3, 3]

    def shell() -> None:
        look = Look(prepared.size, recipe.scan.fill_mm, prepared.face.smoothing.bound_mm)
        face = skin_under(prepared.skin, in_face, look)
        holes = landmark_holes(face, prepared.landmarks, settings.holes)
        conformal_shell(face, Outline("outline", in_face), holes, settings)

    made = best_of(runs, shell)
    checked = best_of(runs, lambda: run_to_end(shell_design(prepared, recipe, DrawnLines(drawn))))
    return {"shell": dataclasses.asdict(made), "measured": dataclasses.asdict(checked)}


def native(path: Path, runs: int) -> dict[str, Any]:
    """Seconds of Solidify and one Boolean; runs where ``import bpy`` works."""
    import bpy
    from contender_native import add_boolean, evaluate, faults, mesh_from, thickened

    bpy.ops.wm.read_factory_settings(use_empty=True)
    with np.load(path) as arrays:
        data = mesh_from(arrays["patch_vertices"], arrays["patch_faces"])
    rods = []
    for side in (-1.0, 1.0):
        bpy.ops.mesh.primitive_cylinder_add(
            vertices=96,
            radius=EYE_MM,
            depth=120.0,
            location=(32.0 * side, 15.0, 39.0),
            rotation=(1.5708, 0, 0),
        )
        rods.append(bpy.context.object)
    bpy.context.view_layer.objects.active = rods[0]
    for rod in rods:
        rod.select_set(True)
    bpy.ops.object.join()
    eyes = bpy.context.object
    eyes.hide_set(True)

    def build() -> bpy.types.Object:
        obj = thickened(data, THICKNESS_MM)
        add_boolean(obj, "DIFFERENCE", eyes, "MANIFOLD")
        return evaluate(obj)

    made: Timing = best_of(runs, build)
    return {"native": dataclasses.asdict(made), "result": faults(build())}


def run(python: str, which: str, path: Path, runs: int) -> dict[str, Any]:
    """One measurement in a process of its own."""
    command = [python, __file__, "--measure", which, "--arrays", str(path), "--runs", str(runs)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith("RESULT ")]
    if not lines:
        raise SystemExit(done.stdout + done.stderr)
    answer: dict[str, Any] = json.loads(lines[-1].removeprefix("RESULT "))
    return answer


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--runs", type=int, default=3, help="the best of so many")
    parser.add_argument("--blender-python", default=sys.executable, help="a Python with the bpy module")
    parser.add_argument("--measure", choices=("ours", "native"), help=argparse.SUPPRESS)
    parser.add_argument("--arrays", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.measure:
        work = ours if asked.measure == "ours" else native
        print("RESULT " + json.dumps(work(asked.arrays, asked.runs)))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "patch.npz"
        write_patch(path)
        theirs, mine = (
            run(asked.blender_python, "native", path, asked.runs),
            run(sys.executable, "ours", path, asked.runs),
        )
    base = theirs["native"]
    print(f"Solidify and one Boolean: {base['wall_s']:.2f} s ({base['cpu_s']:.2f} s of processors)")
    for name in ("shell", "measured"):
        wall, cpu = mine[name]["wall_s"], mine[name]["cpu_s"]
        print(
            f"{name}: {wall:.2f} s ({cpu:.2f} s); ratio {wall / base['wall_s']:.2f}, of processors "
            f"{cpu / base['cpu_s']:.2f}; wanted at most {WANTED_RATIO:g}"
        )
    print(f"their result: {theirs['result']}")
    return 0 if mine["shell"]["wall_s"] <= WANTED_RATIO * base["wall_s"] else 1


if __name__ == "__main__":
    raise SystemExit(main())

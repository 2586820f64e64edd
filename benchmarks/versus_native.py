"""Sealwright against Blender's own Solidify + union + difference, on the same scans, in the same run.

Needs Sealwright in the Python that runs this script, and Blender's Python module in another one
(it pins its own NumPy), which the add-on tests have made:

    make benchmark

The contenders take turns, each in a process of its own, so that peak memory is its own. A ratio
under 1 means Sealwright took less. What is compared: Blender thickens the whole scan, unites a boss and cuts
a bore; Sealwright cleans, orients and landmarks the scan, builds band, chamber, thread, lugs and holder, and
measures the result. Close other programs: both contenders want all processors. The ratio of processor time is
given as well, because it suffers less from a busy machine.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from demo_scenes.patches import face_patch
from demo_scenes.procedural_head import make_head
from demo_scenes.wearers import MARLO

HERE = Path(__file__).resolve().parent
SIZES = (50_000, 200_000, 1_000_000)
# size -> largest ratio of (build, edit) that we want; None where nothing was asked.
WANTED: dict[int, tuple[float | None, float | None]] = {200_000: (1.0, 0.2), 1_000_000: (0.25, None)}
FACE_SHARE = 0.29  # of a head's triangles, those that face_patch keeps


def run(python: str, script: str, scan: Path, extra: Sequence[str]) -> dict[str, Any]:
    """One contender in a fresh process.

    Raises
    ------
    RuntimeError : it failed; the message carries what it printed.
    """
    command = [python, str(HERE / script), str(scan), *extra]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    answers = [line for line in done.stdout.splitlines() if line.startswith("RESULT ")]
    if done.returncode or not answers:
        raise RuntimeError(f"{' '.join(command)} failed:\n{done.stdout[-2000:]}\n{done.stderr[-4000:]}")
    answer: dict[str, Any] = json.loads(answers[-1].removeprefix("RESULT "))
    return answer


def best(answers: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Several answers of one contender as one: the least of every time, the most of every memory."""
    merged = dict(answers[0])
    for answer in answers[1:]:
        for key, value in answer.items():
            if isinstance(value, dict) and "wall_s" in value:
                merged[key] = min(merged[key], value, key=lambda timing: timing["wall_s"])
            elif key.startswith("memory") and value is not None:
                merged[key] = max(merged[key], value)
    return merged


def scan_file(folder: Path, triangles: int, kind: str) -> tuple[Path, int]:
    """The procedural head at a resolution, as a file both contenders read; and its triangle count."""
    mesh = make_head(MARLO, triangles if kind == "head" else round(triangles / FACE_SHARE)).mesh
    if kind == "face":
        mesh = face_patch(mesh, ragged_mm=2.0)
    path = folder / f"{kind}-{triangles}.npz"
    np.savez(path, vertices=mesh.vertices, faces=mesh.faces)
    return path, len(mesh.faces)


def table(rows: Sequence[Sequence[str]]) -> str:
    """Columns lined up, the first row as head."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return "\n".join([lines[0], "-" * len(lines[0]), *lines[1:]])


def verdict(ratio: float, wanted: float | None) -> str:
    """The ratio, and whether it is as small as asked."""
    if wanted is None:
        return f"{ratio:.2f}"
    return f"{ratio:.2f} ({'ok' if ratio <= wanted else 'MISSED'}, {wanted:g})"


def row_of(asked: int, made: int, native: dict[str, Any], ours: dict[str, Any]) -> list[str]:
    """One line of the table."""
    build_wanted, edit_wanted = WANTED.get(asked, (None, None))
    one_boolean = native["solidify_and_union"]["wall_s"] - native["solidify"]["wall_s"]

    def pair(key: str) -> str:
        return f"{native[key]['wall_s']:.2f} / {ours[key]['wall_s']:.2f}"

    return [
        f"{made:,}",
        native["solver"],
        pair("build"),
        verdict(ours["build"]["wall_s"] / native["build"]["wall_s"], build_wanted),
        f"{ours['build']['cpu_s'] / native['build']['cpu_s']:.2f}",
        pair("edit"),
        verdict(ours["edit"]["wall_s"] / native["edit"]["wall_s"], edit_wanted),
        f"{ours['edit_preview']['wall_s'] / native['edit']['wall_s']:.2f}",
        f"{ours['prepare']['wall_s']:.2f} / {one_boolean:.2f}",
        f"{native['memory_peak_mib'] or 0:.0f} / {ours['memory_peak_mib'] or 0:.0f}",
        f"{native['result']['bad_edges']} / {ours['result']['bad_edges']}",
    ]


HEAD = [
    "triangles", "solver", "build s nat/ours", "ratio (wanted)", "cpu ratio",
    "edit s nat/ours", "ratio (wanted)", "preview edit ratio", "prepare / one Boolean s",
    "peak MiB nat/ours", "bad edges nat/ours",
]  # fmt: skip


def main() -> int:
    """Run everything asked for; 0 when every wanted ratio is met, 1 otherwise."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--blender-python", default=sys.executable, help="interpreter that can import bpy")
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES), help="triangles of the scans")
    parser.add_argument("--scan", choices=("head", "face"), default="head", help="whole head or face alone")
    parser.add_argument("--exact", action="store_true", help="also Blender's EXACT solver (slow)")
    parser.add_argument("--rounds", type=int, default=2, help="processes of each contender, taking turns")
    parser.add_argument("--runs", type=int, default=2, help="runs in each process; the best of all counts")
    parser.add_argument("--json", type=Path, help="write all numbers to this file")
    asked = parser.parse_args()
    solvers = ["MANIFOLD", "EXACT"] if asked.exact else ["MANIFOLD"]
    rows, everything = [HEAD], []
    with tempfile.TemporaryDirectory() as folder:
        for size in asked.sizes:
            path, made = scan_file(Path(folder), size, asked.scan)
            runs = ["--runs", str(asked.runs)]
            for solver in solvers:
                pairs = []
                for _ in range(asked.rounds):
                    extra = ["--solver", solver, *runs]
                    theirs = run(asked.blender_python, "contender_native.py", path, extra)
                    pairs.append((theirs, run(sys.executable, "contender_sealwright.py", path, runs)))
                native, ours = (best(answers) for answers in zip(*pairs, strict=True))
                rows.append(row_of(size, made, native, ours))
                everything.append({"triangles": made, "asked": size, "native": native, "sealwright": ours})
                print(table([HEAD, rows[-1]]) + "\n", flush=True)
    blender = everything[0]["native"]["blender"]
    print(f"Best of {asked.rounds} x {asked.runs}. Blender {blender}, scan: {asked.scan}.")
    print(table(rows))
    if asked.json:
        asked.json.write_text(json.dumps(everything, indent=1))
    return int(any("MISSED" in cell for row in rows for cell in row))


if __name__ == "__main__":
    sys.exit(main())

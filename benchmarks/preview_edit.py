"""How long one value change takes until the coarse body is new in Blender, on a scan of 200 000 triangles.

    python benchmarks/preview_edit.py                 # builds the package, then runs itself beside bpy
    python benchmarks/preview_edit.py --blender 4.5

The extension is installed from its zip. Every edit is what a drag of the mouse does: the value is set, its
callback runs, and the work of the live timer follows; the clock stops when the scene is evaluated again. The
first edit after another stage changed is told apart from the following ones, because stages are kept. In the
same process Blender's own way is timed: Solidify, union and difference as modifiers on the same scan, one
thickness changed. A ratio under 1 means the preview took less. Close other programs; the processor time of
the best run is given as well, because it suffers less from a busy machine.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from typing import Any

from beside_blender import NAME, answer_of, installed_on_scan, parser_of, say_answer

WANTED_S = 0.3
EDITS: dict[str, tuple[float, float]] = {  # dotted key of the recipe -> two values taken in turns
    "band.width_mm": (14.0, 15.0),
    "band.edge_radius_mm": (3.0, 3.5),
    "chamber.wall_mm": (2.4, 2.0),
    "chamber.clearance_mm": (5.0, 6.0),
    "ports.0.raise_mm": (1.0, 0.0),
    "seal_line.mouth_margin_mm": (17.0, 16.0),
    "straps.up_the_wall_mm": (6.0, 7.0),
}


def inside(arguments: argparse.Namespace) -> None:
    """Runs beside bpy: times native and live edits, prints one line of JSON."""
    triangles, native = installed_on_scan(arguments)
    import bpy

    first = time.perf_counter()
    bpy.ops.sealwright.preview_body()
    answer = {"blender": bpy.app.version_string, "triangles": triangles, "native_s": native}
    answer |= {"first_preview_s": time.perf_counter() - first, "edits": {}}
    for key, values in EDITS.items():
        found = edit_times(key, values, arguments.runs)
        if found:
            answer["edits"][key] = found
    if arguments.profile:
        profile(arguments.profile)
    say_answer(answer)


def edit_times(key: str, values: tuple[float, float], runs: int) -> dict[str, float]:
    """First and following times of one value's edits, s; empty when the recipe has no such value."""
    import bpy

    live = sys.modules[f"{NAME}.jobs.live"]
    group: Any = bpy.context.scene.sealwright.wearers[0].recipe
    *path, name = key.split(".")
    for word in path:
        group = group[int(word)] if word.isdigit() else getattr(group, word)
    if not hasattr(group, name):
        return {}
    times, busy = [], []
    for run in range(runs + 1):
        start, worked = time.perf_counter(), time.process_time()
        setattr(group, name, values[run % 2])
        live.rebuild()  # what Blender's timer calls; without a window there are no timers
        bpy.context.view_layer.update()
        times.append(time.perf_counter() - start)
        busy.append(time.process_time() - worked)
        problem = bpy.context.window_manager.sealwright.problem.what
        if problem:
            raise RuntimeError(f"{key}: {problem}")
    found = {"first_s": times[0], "median_s": statistics.median(times[1:]), "best_s": min(times[1:])}
    return found | {"cpu_s": min(busy[1:])}


def profile(key: str) -> None:
    """Where the time of one edit goes, to the error stream."""
    import cProfile
    import pstats

    watch = cProfile.Profile()
    watch.enable()
    edit_times(key, EDITS[key], 4)
    watch.disable()
    pstats.Stats(watch, stream=sys.stderr).sort_stats("cumulative").print_stats(45)


def tell(answer: dict[str, Any]) -> int:
    """Print the table; 1 when a median is slower than asked."""
    native = answer["native_s"]
    say = sys.stdout.write
    say(f"Blender {answer['blender']}, {answer['triangles']} triangles\n")
    say(f"first preview (the face is found)     {answer['first_preview_s']:.2f} s\n")
    say(f"modifier edit, Blender's own way      {native:.2f} s\n")
    say("value                          first   median     best      cpu   ratio to modifier edit\n")
    for key, row in answer["edits"].items():
        times = (row[name] for name in ("first_s", "median_s", "best_s", "cpu_s"))
        say(f"{key:28} " + " ".join(f"{seconds:6.2f} s" for seconds in times))
        say(f"  {row['median_s'] / native:6.2f}\n")
    slow = [key for key, row in answer["edits"].items() if row["median_s"] > WANTED_S]
    say(f"slower than {WANTED_S} s: {', '.join(slow) or 'none'}\n")
    return 1 if slow else 0


def main() -> int:
    """Outside Blender build and start; inside measure."""
    parser = parser_of(__doc__)
    parser.add_argument("--runs", type=int, default=6)
    parser.add_argument("--profile", default="", help="a key of the table: also say where the time goes")
    arguments = parser.parse_args()
    if arguments.inside:
        inside(arguments)
        return 0
    more = ["--profile", arguments.profile] if arguments.profile else []
    answer = answer_of(__file__, arguments, ["--runs", str(arguments.runs), *more])
    return 1 if answer is None else tell(answer)


if __name__ == "__main__":
    raise SystemExit(main())

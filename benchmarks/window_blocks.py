"""How long each step of the job keeps the window from drawing, on a scan of 200,000 triangles.

    python benchmarks/window_blocks.py                 # builds the package, then runs itself beside bpy
    python benchmarks/window_blocks.py --blender 4.5

A step gathers on Blender's thread, works on one of its own, and commits on Blender's thread. Here that is the
thread of this file: while a step works it does nothing but look at the clock every 5 ms, so a longer gap is
time in which a window could not have drawn (a native call that keeps its lock). Given are the whole time,
gathering, the longest gap while working, committing, and how long a step that is stopped half way keeps the
next one waiting; the maker gets the window back at once. Wanted: no block over 0.15 s, Examine 4 s at most.
On a busy machine the clock counts other programs as well: beside it stand the processor seconds of this
process, all of a step and the most between two looks at the clock, which is what a native call that keeps its
lock takes.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import time
from collections.abc import Callable, Generator
from typing import Any

from beside_blender import NAME, answer_of, installed_on_scan, parser_of, say_answer

LOOK_S, WANTED_S = 0.005, 0.15
MAKES = {
    "Find Face": ("prepared",),
    "Preview Body": ("stages",),
    "One value, live": ("stages",),
    "Build All Parts": ("design", "stages"),
    "Examine": ("made",),
    "Try Remedies": ("made", "tried"),
}
"""What of the session's memory a step makes: forgotten, so that it works again."""


def inside(arguments: argparse.Namespace) -> None:
    """Runs beside bpy: times the steps, prints one line of JSON."""
    triangles, native = installed_on_scan(arguments)
    import bpy

    importlib.import_module(f"{NAME}.core.jobs.make")  # as a window does beside itself when it opens
    rows = {}
    for name, begin, commit in steps():
        rows[name] = timed(begin, commit)
        rows[name]["stop_s"] = let_go(name, begin, rows[name]["total_s"])
    version = bpy.app.version_string
    say_answer({"blender": version, "triangles": triangles, "native_s": native, "rows": rows})


def steps() -> list[tuple[str, Callable[[], Any], Callable[[Any], object]]]:
    """Name, gathering, and commit of every step, as its operator does them."""
    import bpy

    stages, output = sys.modules[f"{NAME}.jobs.stages"], sys.modules[f"{NAME}.jobs.output"]
    recipe_of = sys.modules[f"{NAME}.model.recipe_text"].recipe_of
    context, wearer = bpy.context, bpy.context.scene.sealwright.wearers[0]

    def value() -> Any:
        wearer.recipe.chamber.wall_mm = 2.1
        return stages.shape_steps(context, wearer)

    return [
        (
            "Find Face",
            lambda: stages.prepare_steps(context, wearer, recipe_of(wearer)),
            lambda made: stages.commit_face(context, wearer, made),
        ),
        (
            "Preview Body",
            lambda: stages.shape_steps(context, wearer),
            lambda made: output.commit_shape(context, wearer, *made),
        ),
        ("One value, live", value, lambda made: output.commit_shape(context, wearer, *made)),
        (
            "Build All Parts",
            lambda: output.built_steps(stages.design_steps(context, wearer)),
            lambda made: output.commit_design(context, wearer, made),
        ),
        (
            "Examine",
            lambda: stages.made_steps(context, wearer),
            lambda made: output.commit_examined(context, wearer, made),
        ),
        (
            "Try Remedies",
            lambda: stages.made_steps(context, wearer, tries=True),
            lambda made: output.commit_examined(context, wearer, made),
        ),
    ]


def timed(begin: Callable[[], Any], commit: Callable[[Any], object]) -> dict[str, float]:
    """One step as the window runs it, s."""
    import bpy

    runner_class = sys.modules[f"{NAME}.jobs.job"].Runner
    start, begun, here = time.perf_counter(), time.process_time(), time.thread_time()
    runner = runner_class(begin())
    gathered = last = time.perf_counter()
    busy, blocks = time.process_time(), [time.thread_time() - here]
    runner.start()
    gap = kept = 0.0
    while not runner.done():
        time.sleep(LOOK_S)
        now, used = time.perf_counter(), time.process_time()
        gap, last = max(gap, now - last - LOOK_S), now
        kept, busy = max(kept, used - busy), used
    worked, here = time.perf_counter(), time.thread_time()
    commit(runner.result)
    bpy.context.view_layer.update()
    blocks.append(time.thread_time() - here)
    end = time.perf_counter()
    return {
        "total_s": end - start,
        "gather_s": gathered - start,
        "gap_s": gap,
        "commit_s": end - worked,
        "cpu_s": time.process_time() - begun,
        "gap_cpu_s": kept,
        "gather_cpu_s": blocks[0],
        "commit_cpu_s": blocks[1],
    }


def let_go(name: str, begin: Callable[[], Any], total_s: float) -> float:
    """Longest time until another step begins after one was stopped, at three moments of it."""
    runner_class = sys.modules[f"{NAME}.jobs.job"].Runner
    longest = 0.0
    for share in (0.25, 0.5, 0.75):
        for kind in MAKES[name]:
            sys.modules[f"{NAME}.model.cache"].clear(kind)
        runner = runner_class(begin())
        runner.start()
        time.sleep(share * total_s)
        start = time.perf_counter()
        runner.stop()
        following = runner_class(nothing())
        following.start()
        while not following.done():
            time.sleep(LOOK_S)
        longest = max(longest, time.perf_counter() - start)
    runner_class(begin()).run()  # what was forgotten is known again
    return longest


def nothing() -> Generator[Any, None, None]:
    """A step without work."""
    yield from ()


def tell(answer: dict[str, Any]) -> int:
    """Print the table; 1 when a block is longer than asked."""
    native, say = answer["native_s"], sys.stdout.write
    say(f"Blender {answer['blender']}, {answer['triangles']} triangles; ")
    say(f"a native boolean edit on the same scan takes {native:.2f} s\n")
    say("step               total  ratio   gather  longest gap   commit   next may begin after")
    say("   processor: all  gather  in a gap  commit\n")
    blocks = {}
    for name, row in answer["rows"].items():
        blocks[name] = max(row["gather_s"], row["gap_s"], row["commit_s"])
        say(f"{name:16} {row['total_s']:6.2f} s {row['total_s'] / native:6.1f} {row['gather_s']:6.2f} s")
        say(f" {row['gap_s']:10.2f} s {row['commit_s']:6.2f} s {row['stop_s']:10.2f} s")
        say(f" {row['cpu_s']:22.2f} s {row['gather_cpu_s']:5.2f} s {row['gap_cpu_s']:7.2f} s")
        say(f" {row['commit_cpu_s']:5.2f} s\n")
    slow = [f"{name} {seconds:.2f} s" for name, seconds in blocks.items() if seconds > WANTED_S]
    say(f"blocks longer than {WANTED_S} s: {', '.join(slow) or 'none'}\n")
    return 1 if slow else 0


def main() -> int:
    """Outside Blender build and start; inside measure."""
    arguments = parser_of(__doc__).parse_args()
    if arguments.inside:
        inside(arguments)
        return 0
    answer = answer_of(__file__, arguments)
    return 1 if answer is None else tell(answer)


if __name__ == "__main__":
    raise SystemExit(main())

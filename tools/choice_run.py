"""Every choice of the hardware, every preset and random recipes on open faces: sound, or refused by name.

``python tools/choice_run.py --faces head-a face-f26 --random 100`` prints a line for each case and the
counts of each face; it fails on a refusal that names no cause in the recipe, and on an assembly that is not
sound.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "core"), str(Path(__file__).resolve().parent)]

from sealwright.designing.prepare import prepare  # noqa: E402
from sealwright.designing.prepared import Prepared  # noqa: E402
from sealwright.jobs.demo import demo_files  # noqa: E402
from sealwright.progress import run_to_end  # noqa: E402
from sealwright.recipe import Recipe  # noqa: E402
from sealwright.scan.read.mesh_file import read_scan, scan_from_bytes  # noqa: E402
from sealwright.scan.reference.scale import scale_of  # noqa: E402
from sealwright.stage_cache import StageCache  # noqa: E402
from trials.choices import Outcome, every_choice, outcome, random_recipe, told  # noqa: E402
from trials.places import open_data  # noqa: E402

FACES = ("demo", "head-a", "face-f26", "face-m36", "raw-scan-a", "sensor-scan-b")


def face(name: str) -> Prepared:
    """An open face, or "demo", the invented wearer of the demonstration, prepared."""
    marks = None
    if name == "demo":
        scan_file, marks_file = demo_files("Marlo").values()
        scan, marks = scan_from_bytes(scan_file, "ply", name), json.loads(marks_file)
    else:
        scan = read_scan(open_data(name))
    scale = scale_of(scan.mesh, None, scan.stated_unit)
    return run_to_end(prepare(scan.mesh, Recipe(), marks, scale, adult=True))


def cases(name: str, chosen: argparse.Namespace) -> Iterator[tuple[str, Recipe]]:
    """What is made on a face: every choice, then its random recipes."""
    if not chosen.only_random:
        yield from every_choice()
    seeds = range(chosen.seed, chosen.seed + chosen.random)
    if chosen.spread:
        number, faces = chosen.faces.index(name), len(chosen.faces)
        each, rest = divmod(chosen.random, faces)
        first = number * each + min(number, rest)
        seeds = seeds[first : first + each + (number < rest)]
    yield from ((f"seed {seed}", random_recipe(seed)) for seed in seeds)


def on_face(name: str, chosen: argparse.Namespace) -> Iterator[tuple[str, Outcome]]:
    """What becomes of each case on a face, told as it ends."""
    prepared, usual = face(name), StageCache()
    outcome(prepared, Recipe(), usual)
    for case, recipe in cases(name, chosen):
        if chosen.only not in case or any(word in case for word in chosen.leave_out):
            continue
        began = time.monotonic()
        # Every case is the default with little changed: its stages are the ones worth keeping.
        found = outcome(prepared, recipe, StageCache(dict(usual.kept)))
        print(told(f"{name}: {case}", found), f"{time.monotonic() - began:.1f} s", flush=True)
        yield case, found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", nargs="+", default=list(FACES))
    parser.add_argument("--random", type=int, default=0, help="so many random recipes on each face")
    parser.add_argument("--spread", action="store_true", help="so many in all, dealt out over the faces")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only-random", action="store_true")
    parser.add_argument("--only", default="", help="cases whose name holds this")
    parser.add_argument(
        "--leave-out", nargs="+", default=[], help="not the cases whose name holds one of these"
    )
    chosen = parser.parse_args()
    bad = []
    for name in chosen.faces:
        counts: Counter[str] = Counter()
        for case, found in on_face(name, chosen):
            counts[found.result] += 1
            if not found.named:
                bad.append(f"{name}: {case}: {found.result}")
        print(name, dict(counts.most_common()), flush=True)
    raise SystemExit("Not sound and not named:\n" + "\n".join(bad) if bad else 0)


if __name__ == "__main__":
    main()

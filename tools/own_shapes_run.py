"""Random outlines and closed meshes of a maker, with ports and lugs on them: sound, or refused by name.

``python tools/own_shapes_run.py --shells 300 --models 300 --log FILE`` goes on where the log ends; it prints
the counts by what became of each, and fails when one was unsound or refused without a cause that a maker
can see. ``--seconds`` stops after a while.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "core"), str(Path(__file__).resolve().parent)]

from choice_run import face  # noqa: E402
from trials.own_shapes import NOT_NAMED, Skin, Tried, random_model, random_shell, tried  # noqa: E402

FACES = ("demo", "head-a", "face-f26")


def done_in(log: Path) -> dict[tuple[str, int], str]:
    """What a log holds: kind and seed -> what became of it."""
    rows = [json.loads(line) for line in log.read_text().splitlines()] if log.is_file() else []
    return {(row["kind"], row["seed"]): row["what"] for row in rows}


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--shells", type=int, default=300)
    parser.add_argument("--models", type=int, default=300)
    parser.add_argument("--faces", nargs="+", default=FACES)
    parser.add_argument("--log", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=1e9)
    asked = parser.parse_args()
    began, done = time.monotonic(), done_in(asked.log)
    wanted = [("shell", seed) for seed in range(asked.shells)] + [
        ("model", seed) for seed in range(asked.models)
    ]
    wanted = sorted((pair for pair in wanted if pair not in done), key=lambda pair: pair[1])
    for name in asked.faces:
        number = asked.faces.index(name)
        here = [pair for pair in wanted if pair[1] % len(asked.faces) == number]
        if not here or time.monotonic() - began > asked.seconds:
            continue
        prepared = face(name)
        skin = Skin(prepared)
        share = (asked.seconds - (time.monotonic() - began)) / (len(asked.faces) - number)
        until = time.monotonic() + share
        for kind, seed in here:
            if time.monotonic() > until:
                break
            start = time.monotonic()
            try:
                found = tried(prepared, (random_shell if kind == "shell" else random_model)(seed, skin))
            except Exception:  # a crash is what is looked for
                found = Tried("unsound", traceback.format_exc())
            row = {"kind": kind, "seed": seed, "face": name, "what": found.what, "told": found.told}
            row["seconds"] = round(time.monotonic() - start, 1)
            with asked.log.open("a") as file:
                file.write(json.dumps(row) + "\n")
            if not found.good:
                print(f"{kind} {seed} on {name}: {found.what}: {found.told}", flush=True)
    counts = Counter((kind, what) for (kind, _), what in done_in(asked.log).items())
    for (kind, what), count in sorted(counts.items()):
        print(f"{kind:>6} {what:<16} {count}")
    return int(any(what in ("unsound", *NOT_NAMED) for _, what in counts))


if __name__ == "__main__":
    raise SystemExit(main())

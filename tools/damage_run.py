"""Thousands of seeded, damaged scans from the file to the mask: an outcome table, and every failure by seed.

``python tools/damage_run.py --cases 10000 --out damage.jsonl`` goes on where it was stopped: cases whose
outcome is in the file already are not run again. Most cases are prepared only; every ``--design-every``-th is
designed in full, and its invariants are checked. Exit code 1 when anything failed.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]

OURS = ("BadSolid", "BooleanFailed", "NotConverged")
"""Refusals that leave nothing behind, but speak of our shapes and not of the scan."""


def stage_of(seed: int, design_every: int) -> str:
    return "design" if design_every and seed % design_every == 0 else "prepare"


def known(path: Path) -> dict[int, dict[str, Any]]:
    """Outcomes of an earlier run; a last line that was cut off is run again."""
    found = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.is_file() else ():
        try:
            row = json.loads(line)
        except json.JSONDecodeError:
            continue
        found[row["seed"]] = row
    return found


def table(rows: list[dict[str, Any]]) -> str:
    """The outcome table, what was refused, and each failure."""
    stages = sorted({row["stage"] for row in rows})
    kinds = ("valid", "refused", "failure")
    lines = [f"{'':<10}" + "".join(f"{kind:>10}" for kind in kinds)]
    for stage in stages:
        count = Counter(row["kind"] for row in rows if row["stage"] == stage)
        lines.append(f"{stage:<10}" + "".join(f"{count[kind]:>10}" for kind in kinds))
    refused = Counter(row["detail"] for row in rows if row["kind"] == "refused")
    lines += ["", "Refusals: " + ", ".join(f"{name} {n}" for name, n in refused.most_common())]
    ours = [row for row in rows if row["detail"] in OURS]
    lines += [f"{r['detail']} seed {r['seed']}: ours to mend, not the maker's [{r['made']}]" for r in ours]
    doubted = [row for row in rows if row["kind"] == "valid" and row["detail"]]
    lines += [f"Valid but wrong, and said so with a warning: {len(doubted)}"]
    lines += [
        f"FAILURE seed {r['seed']}: {r['detail']} [{r['made']}]" for r in rows if r["kind"] == "failure"
    ]
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--cases", type=int, default=10_000, help="seeds to run")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--design-every", type=int, default=20, help="every so many is designed; 0 for none")
    parser.add_argument("--out", type=Path, default=Path("out/damage.jsonl"), help="outcomes, one a line")
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so long; run again to go on")
    asked = parser.parse_args()
    from trials.campaign import case_of, outcome_of

    asked.out.parent.mkdir(parents=True, exist_ok=True)
    done, until = known(asked.out), time.monotonic() + 60.0 * asked.minutes
    with asked.out.open("a", encoding="utf-8") as sink:
        sink.write("\n" if done else "")
        for seed in range(asked.first, asked.first + asked.cases):
            if seed in done:
                continue
            if time.monotonic() > until:
                break
            outcome = outcome_of(case_of(seed, huge=True), stage_of(seed, asked.design_every))
            done[seed] = asdict(outcome)
            sink.write(json.dumps(done[seed]) + "\n")
            sink.flush()
            if outcome.kind == "failure":
                print(f"seed {seed}: {outcome.detail} [{outcome.made}]", flush=True)
    rows = [done[seed] for seed in sorted(done)]
    print(f"\n{len(rows)} cases\n{table(rows)}")
    return 1 if any(row["kind"] == "failure" for row in rows) else 0


if __name__ == "__main__":
    raise SystemExit(main())

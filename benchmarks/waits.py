"""What a maker waits for after a design of a scan of 200,000 triangles stands, without Blender.

    python benchmarks/waits.py

Wall and processor seconds, and the wall seconds over those of a peer in the same run: LAPACK's Cholesky
factors of 4,000 even-spread points, which both processors share. Wanted on two quiet ones: 1,024 draws in 5 s
at most, Examine in 4 s at most.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np

REPO = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(REPO / "core"), str(REPO / "tools"), str(REPO / "tests" / "package"), str(REPO)]

from run import heads_file  # noqa: E402
from scipy.linalg import cho_factor  # noqa: E402
from sealwright.designing.design import Design  # noqa: E402
from sealwright.designing.prepare import design, prepare  # noqa: E402
from sealwright.jobs.examining import examination  # noqa: E402
from sealwright.mesh import trimesh_of  # noqa: E402
from sealwright.physics.ensemble import Ensemble  # noqa: E402
from sealwright.predict.assumed import assumed_of  # noqa: E402
from sealwright.predict.worn_case import worn_case  # noqa: E402
from sealwright.progress import run_to_end  # noqa: E402
from sealwright.recipe import Recipe  # noqa: E402
from sealwright.report.gallery import design_pictures  # noqa: E402
from timing import Timing, best_of  # noqa: E402

RUNS, POINTS, DRAWS = 2, 4000, 1024


def peer() -> Callable[[], object]:
    """Work of others: one large factorisation."""
    matrix = np.random.default_rng(1).normal(size=(POINTS, POINTS)) * 0.01
    matrix = matrix @ matrix.T + np.eye(POINTS)
    return lambda: cho_factor(matrix)


@cache
def designed() -> Design:
    """The default mask on the large head of the extension's tests."""
    with np.load(heads_file()) as heads:
        scan = trimesh_of(heads["large/vertices"], heads["large/faces"], "scan")
    return run_to_end(design(run_to_end(prepare(scan, Recipe())), Recipe()))


def draws() -> None:
    """All states of the draws, from nothing but the band."""
    assumed = assumed_of(designed().recipe)
    assert assumed.fit.samples == DRAWS
    Ensemble(worn_case(designed(), assumed), assumed.contact, assumed.fit).worn()


def main() -> None:
    """Time everything and print the table."""
    designed()
    against = best_of(RUNS, peer())
    rows: dict[str, Callable[[], object]] = {
        f"{DRAWS} draws": draws,
        "Examine": lambda: examination(designed()),
        "pictures": lambda: run_to_end(design_pictures(designed())),
    }
    sys.stdout.write("what            wall s   CPU s   times the peer\n")
    sys.stdout.write(_row("peer", against, against))
    for name, work in rows.items():
        sys.stdout.write(_row(name, best_of(RUNS, work), against))


def _row(name: str, found: Timing, against: Timing) -> str:
    return f"{name:12} {found.wall_s:9.2f} {found.cpu_s:7.2f} {found.wall_s / against.wall_s:12.1f}\n"


if __name__ == "__main__":
    main()

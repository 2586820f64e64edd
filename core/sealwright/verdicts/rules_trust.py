"""Verdict on the trust in the scanned skin under the seal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..trust.reasons import DOUBTFUL, GOOD, RESCAN
from .verdict import Verdict, graded


def trust_verdict(section: Mapping[str, Any]) -> Verdict:
    """One verdict of the whole seal line, naming the sectors that are not good."""
    sectors = section["sectors"]
    good = [s for s in sectors if s["verdict"] == GOOD]
    worst = sorted((s for s in sectors if s not in good), key=lambda s: s["verdict"] != RESCAN)
    told = " ".join(f"{s['sector'].capitalize()}: {s['reason']}" for s in worst[:3])
    more = f" And {_named(worst[3:])}." if len(worst) > 3 else ""
    share = len(good) / len(sectors)
    return Verdict(
        "trust",
        "Scanned skin under the seal, sector by sector",
        graded(not worst, section["verdict"] != RESCAN),
        share,
        "1",
        1.0,
        f"every sector good; {DOUBTFUL} ones warn, one to {RESCAN} fails",
        f"{told}{more}" if worst else "The scan can be trusted in every sector.",
        " ".join(dict.fromkeys(s["fix"] for s in worst[:3])),
    )


def _named(sectors: Sequence[Mapping[str, Any]]) -> str:
    return ", ".join(f"{s['sector']} ({s['verdict']})" for s in sectors)

"""Whether the scan can be trusted under the seal, as a strip of sectors and a table."""

from __future__ import annotations

from ..shape import FitReport, ReportTrust, ReportTrustSectors
from .sentences import sentence
from .text import block, escaped, html_table, number

_PILLS = {"good": "pass", "doubtful": "warn", "rescan": "fail"}
_SIGNS = {"good": "✓", "doubtful": "!", "rescan": "✕"}


def trust_block(report: FitReport) -> str:
    """Strip and table of the sectors; nothing for a tube."""
    trust = report["trust"]
    if trust is None:
        return ""
    words = sentence("trust.about")
    smooth = sentence("trust.smooth_skin", roughness=number(report, "trust.smooth_skin_mm"))
    return block(
        "Can the scan be trusted under the seal?",
        words,
        _strip(trust),
        _table(report, trust["sectors"]),
        smooth,
        name="trust",
    )


def _strip(trust: ReportTrust) -> str:
    cells = "".join(_marked(s["verdict"], s["sector"]) + " " for s in trust["sectors"])
    return f'<p class="sectors">{cells}</p>'


def _table(report: FitReport, sectors: list[ReportTrustSectors]) -> str:
    head = (
        "sector",
        "verdict",
        "noise",
        "roughness",
        "guessed",
        "steep",
        "double",
        "scan ends at",
        "spikes",
        "reason",
    )
    keys = (
        "noise_mm",
        "roughness_mm",
        "guessed_share",
        "steep_share",
        "doubled_share",
        "border_mm",
        "repaired",
    )
    rows = []
    for index, sector in enumerate(sectors):
        shown = [number(report, f"trust.sectors.{index}.{key}") for key in keys]
        why = f"{escaped(sector['reason'])} {escaped(sector['fix'])}".strip()
        rows.append((escaped(sector["sector"]), _marked(sector["verdict"]), *shown, why))
    return html_table(head, rows, "trust")


def _marked(verdict: str, words: str = "") -> str:
    """A pill with sign and word, the word of the verdict when none is given."""
    return f'<span class="pill {_PILLS[verdict]}">{_SIGNS[verdict]} {escaped(words or verdict)}</span>'

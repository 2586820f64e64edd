"""The trust in the scanned skin under the seal."""

from __future__ import annotations

from ...designing.design import Design
from ...trust.verdicts import trust_of


def trust_section(design: Design) -> dict[str, object] | None:
    """Trust by sector of the seal line; None for a tube."""
    trust = trust_of(design)
    if trust is None:
        return None
    return {
        "verdict": trust.verdict,
        "smooth_skin_mm": trust.smooth_mm,
        "sectors": [sector.as_dict() for sector in trust.sectors],
    }

"""Section of the report about a shape of the maker's own."""

from __future__ import annotations

from dataclasses import asdict

from ...designing.design import Design
from .parts import Section


def own_section(design: Design) -> dict[str, Section]:
    """How it lies on the skin, its lines and its thickness; nothing for a mask or a tube."""
    own = design.own
    if own is None:
        return {}
    section: Section = {
        "on_skin_mm2": own.on_skin_mm2,
        "touching_share": own.touching_share,
        "gap_max_mm": own.gap_max_mm,
        "lines": [asdict(line) for line in own.lines],
        "fittings": [
            {key: value for key, value in asdict(one).items() if value is not None} for one in own.fittings
        ],
    }
    if own.thickness is not None:
        section["thickness"] = asdict(own.thickness)
    return {"own_shape": section}

"""Section of the report about what a design aims at, and what stands in the way of an aim that is missed."""

from __future__ import annotations

from collections.abc import Sequence

from ...verdicts.aims import Aim
from ...verdicts.sentences import sentences


def aims_section(aims: Sequence[Aim]) -> dict[str, object] | None:
    """All aims; None where there are none."""
    if not aims:
        return None
    return {
        "about": sentences("aims")["about"],
        "rows": [
            {
                "key": aim.key,
                "name": aim.name,
                "value": aim.value,
                "unit": aim.unit,
                "value_text": aim.value_text,
                "limit": aim.limit,
                "limit_text": aim.limit_text,
                "kept": aim.kept,
                "against": aim.against,
            }
            for aim in aims
        ],
    }

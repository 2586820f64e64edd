"""Section of the report about what would change the design, as tried on its wearer."""

from __future__ import annotations

from ...predict.tried import Tried
from ...verdicts.sentences import filled, sentences
from ...verdicts.tried_words import told_of


def tried_section(tried: Tried | None) -> dict[str, object] | None:
    """The masks that were tried, and what they show."""
    if tried is None:
        return None
    return {
        "about": filled(sentences("tried")["about"], {"draws": tried.draws}),
        "told": told_of(tried),
        "draws": tried.draws,
        "missed": tried.missed,
        "remedies": tried.remedies,
        "rows": [
            {
                "role": row.role,
                "what": row.what,
                "set": [
                    f"{key} = {value:g}" if isinstance(value, float) else f"{key} = {value}"
                    for key, value in row.values.items()
                ],
                **row.numbers,
            }
            for row in tried.rows
        ],
    }

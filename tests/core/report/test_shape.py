"""The types of the report are those of its glossary."""

from __future__ import annotations

import report_types


def test_types_are_made_from_the_glossary_as_it_is():
    """A key that was renamed, or that may be null now, reaches the checker of types."""
    assert report_types.TARGET.read_text(encoding="utf-8") == report_types.text()

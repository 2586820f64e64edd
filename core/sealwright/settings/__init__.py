"""Settings with unit, range and reason: frozen dataclasses whose fields check and describe themselves.

A section of the recipe is a frozen dataclass whose fields are made with `quantity`, `count`, `choice`,
`switch`, `text`, `points` or `section`; where leaving a decision to the program makes sense with
`optional_quantity` or `optional_choice`, whose None (null in JSON) means automatic. From the fields come the
JSON form, the JSON schema, the panel and the documentation.
"""

from .fields import (
    choice,
    count,
    decided,
    given,
    optional_choice,
    optional_quantity,
    points,
    quantity,
    section,
    sections,
    switch,
    text,
)
from .reading import check_settings, settings_from, settings_to
from .schema import properties_of, schema_of

__all__ = [
    "check_settings",
    "choice",
    "count",
    "decided",
    "given",
    "optional_choice",
    "optional_quantity",
    "points",
    "properties_of",
    "quantity",
    "schema_of",
    "section",
    "sections",
    "settings_from",
    "settings_to",
    "switch",
    "text",
]

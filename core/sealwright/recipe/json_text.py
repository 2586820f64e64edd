"""JSON text read strictly: what Python's reader lets pass and a recipe must not hold is refused by name.

RFC 8259 knows no NaN and no infinity, and says that names in an object should be unique; a reader that keeps
the last of two equal keys drops a decision without a word.
"""

from __future__ import annotations

import json

from ..errors import BadRecipe, Where
from ..settings.reading import quoted

MOST_CHARACTERS = 2_000_000
"""A recipe with a thousand control points has a tenth of this."""

DEEPEST = 32
"""Brackets within brackets; a recipe has six levels."""


def strict_json(text: str) -> object:
    """JSON text as plain data; a byte-order mark is taken off.

    NaN and infinities come back as such numbers: every range of the settings refuses them by their key.

    Raises
    ------
    BadRecipe : not JSON, two equal keys in one object, half a surrogate pair, too long or too deep.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_CHARACTERS:
        raise _refused(f"it has {len(text)} characters, more than {MOST_CHARACTERS}", "")
    if _depth(text) > DEEPEST:
        raise _refused(f"its brackets are nested more than {DEEPEST} deep", "")
    try:
        data: object = json.loads(text, object_pairs_hook=_unique)
    except json.JSONDecodeError as error:
        raise _refused(error.msg, f"line {error.lineno}, column {error.colno}") from error
    except ValueError as error:  # a number of endless digits
        raise _refused(str(error), "") from error
    _require_whole_characters(data, "recipe")
    return data


def _refused(reason: str, place: str) -> BadRecipe:
    return BadRecipe(
        f"The recipe is not valid JSON: {reason}.",
        Where("recipe", key=place),
        "Mend the text there, or save the recipe again from the panel.",
    )


def _depth(text: str) -> int:
    """How deep brackets are nested, outside strings."""
    deepest, depth, quoted, escaped = 0, 0, False, False
    for c in text:
        if quoted:
            quoted = escaped or c != '"'
            escaped = c == "\\" and not escaped
        elif c == '"':
            quoted = True
        elif c in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif c in "]}":
            depth -= 1
    return deepest


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    made: dict[str, object] = {}
    for name, value in pairs:
        if name in made:
            raise BadRecipe(
                f"The key {quoted(name)} stands twice in one object of the recipe.",
                Where("recipe", key=quoted(name)[1:-1]),
                "Keep the one that is meant and delete the other.",
            )
        made[name] = value
    return made


def _require_whole_characters(data: object, key: str) -> None:
    """Refuse texts and names with half a surrogate pair, which no file can hold."""
    if isinstance(data, str):
        if any(0xD800 <= ord(c) <= 0xDFFF for c in data):
            raise BadRecipe(
                f"The text of {key} has half a surrogate pair, which is no character.",
                Where("recipe", key=key),
                "Type the text again.",
            )
    elif isinstance(data, dict):
        for name, value in data.items():
            _require_whole_characters(name, f"a key of {key}")
            _require_whole_characters(value, f"{key}.{name}")
    elif isinstance(data, list):
        for index, value in enumerate(data):
            _require_whole_characters(value, f"{key}[{index}]")

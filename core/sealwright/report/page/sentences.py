"""The sentences of the page, which stand in ``sentences.txt`` beside this file and not in the code.

A sentence begins with its name in brackets and runs, over as many lines as it likes, to the next one. Values
are put in where it says ``$name``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from string import Template

_NAME = re.compile(r"^\[([a-z0-9_.-]+)\]$", re.MULTILINE)


@cache
def page_sentences() -> Mapping[str, str]:
    """All sentences by name, each on one line.

    Raises
    ------
    ValueError : a name is there twice.
    """
    source = (Path(__file__).parent / "sentences.txt").read_text(encoding="utf-8")
    _, *parts = _NAME.split(source)
    names = parts[::2]
    if len(set(names)) < len(names):
        raise ValueError(f"A sentence of the page is there twice: {sorted(names)}.")
    return {name: " ".join(words.split()) for name, words in zip(names, parts[1::2], strict=True)}


def sentence(name: str, **values: object) -> str:
    """One sentence with its values put in; they must be HTML already where the sentence is.

    Raises
    ------
    KeyError : there is no such sentence, or a value of it is not given.
    """
    return Template(page_sentences()[name]).substitute({key: str(value) for key, value in values.items()})

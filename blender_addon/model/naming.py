# SPDX-License-Identifier: GPL-3.0-or-later
"""File names that say wearer, part and date, in characters every file system takes."""

from __future__ import annotations

import re

from ..core.errors import DesignError, Where

RESERVED = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(1, 10))}


class BadName(DesignError):
    """A file name pattern that gives the same name twice, or none."""

    code = "bad-name"


def file_name(pattern: str, wearer: str, part: str, date: str) -> str:
    """One file name without ending.

    Parameters
    ----------
    pattern : words with {wearer}, {part} and {date}.

    Raises
    ------
    BadName : an unknown word in braces, no {part}, or nothing left of the name.
    """
    unknown = set(re.findall(r"\{(.*?)\}", pattern)) - {"wearer", "part", "date"}
    if unknown or "{part}" not in pattern:
        raise BadName(
            f"The file name {pattern!r} "
            + (f"has the unknown word {sorted(unknown)[0]!r}." if unknown else "lacks {part}."),
            Where("file name", key=pattern),
            "Use {wearer}, {part} and {date}; {part} must be there, or parts overwrite each other.",
        )
    text = pattern.replace("{wearer}", wearer).replace("{part}", part).replace("{date}", date)
    text = re.sub(r'[<>:"/\\|?*\x00-\x1f]+', " ", text)
    text = re.sub(r"[\s]+", "-", text.strip(" .-_"))
    text = re.sub(r"-{2,}", "-", text).strip("-.")
    if not text or text.lower() in RESERVED:
        raise BadName(
            "Nothing is left of the file name.",
            Where("file name", key=pattern),
            "Give the wearer a name with letters.",
        )
    return text

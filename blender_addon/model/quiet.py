# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether values are being written by the program, not by the maker's hand: then nothing is rebuilt."""

from __future__ import annotations

_quiet: list[None] = []


class quiet:
    """While values are written by us (a recipe is loaded), nothing is rebuilt."""

    def __enter__(self) -> None:
        _quiet.append(None)

    def __exit__(self, *_: object) -> None:
        _quiet.pop()


def is_quiet() -> bool:
    """Whether values are being written by us at the moment."""
    return bool(_quiet)

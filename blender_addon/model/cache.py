# SPDX-License-Identifier: GPL-3.0-or-later
"""What was computed in this session, by the inputs it depends on; never saved, always safe to forget."""

from __future__ import annotations

from collections import OrderedDict
from typing import Any

_LIMIT = 16  # prepared faces and designs of a few wearers; the oldest goes first
_kept: OrderedDict[tuple[str, str], Any] = OrderedDict()
shapes: dict[int, str] = {}
"""Session uid of a scan -> hash of its evaluated mesh; see `fingerprint`."""
prints: dict[tuple[int, int], str] = {}
"""Session uid of a scene and number of a wearer -> print of all that a design depends on."""


def touch(whole: bool = False) -> None:
    """Something may have changed: prints are taken anew when they are next asked for.

    Parameters
    ----------
    whole : everything may be another, also the shapes of scans; hashing one of 240,000 triangles takes 25 ms.
    """
    prints.clear()
    if whole:
        shapes.clear()


def remembered(kind: str, key: str) -> Any | None:
    """What was kept for exactly these inputs, or None."""
    found = _kept.get((kind, key))
    if found is not None:
        _kept.move_to_end((kind, key))
    return found


def remember(kind: str, key: str, value: Any) -> None:
    """Keep a result for these inputs."""
    _kept[(kind, key)] = value
    _kept.move_to_end((kind, key))
    while len(_kept) > _LIMIT:
        _kept.popitem(last=False)


def clear(kind: str = "") -> None:
    """Forget everything, or everything of one kind."""
    for key in [key for key in _kept if not kind or key[0] == kind]:
        del _kept[key]

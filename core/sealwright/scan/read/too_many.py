"""How many triangles are read, said before they are laid out."""

from __future__ import annotations

from ...errors import UnreadableFile, Where


def require_few(count: int, most: int, name: str) -> None:
    """Refuse more triangles than are read.

    Raises
    ------
    UnreadableFile : over ``most``.
    """
    if count > most:
        raise UnreadableFile(
            f"The scan has {count} triangles; up to {most} are read.",
            Where("scan file", key=name),
            "Cut away all but the face, or export with fewer triangles.",
        )

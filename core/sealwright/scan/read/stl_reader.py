"""Read STL, text or binary, by what is in the file and not by what its header says."""

from __future__ import annotations

import re

import numpy as np

from ...errors import NoSurface, Remark, UnreadableFile, Where
from ...mesh import Floats
from .text_numbers import numbers_of
from .too_many import require_few

HEADER_BYTES, FACET_BYTES = 84, 50
_NAMED = re.compile(rb"(?m)^[ \t]*(?:end)?solid\b[^\r\n]*?(?=facet[ \t]+normal|[\r\n]|\Z)")
_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])


def read_stl(data: bytes, name: str, most_triangles: int) -> tuple[Floats, str, tuple[Remark, ...]]:
    """Corners of the triangles of an STL file.

    A file is binary when its length agrees with its count of triangles, also where its header begins with
    "solid"; otherwise it is text when it speaks of facets.

    Returns
    -------
    corners : (m, 3, 3) in file units.
    kind : "STL text" or "STL binary".
    remarks : what was odd.

    Raises
    ------
    UnreadableFile : cut off, or no STL at all.
    NoSurface : no triangle in it.
    """
    require_few(
        (len(data) - HEADER_BYTES) // FACET_BYTES if b"\0" in data[:HEADER_BYTES] else 0, most_triangles, name
    )
    count = int.from_bytes(data[80:84], "little") if len(data) >= HEADER_BYTES else -1
    if count >= 0 and len(data) == HEADER_BYTES + FACET_BYTES * count:
        return _binary(data, count, name, ())
    head = data[:2000].lower()
    if head.lstrip().startswith(b"solid") and (b"facet" in head or b"endsolid" in head):
        return _text(data, name, most_triangles)
    return _lying_binary(data, count, name)


def _lying_binary(data: bytes, count: int, name: str) -> tuple[Floats, str, tuple[Remark, ...]]:
    """A binary file whose length and count of triangles disagree."""
    whole, rest = divmod(len(data) - HEADER_BYTES, FACET_BYTES)
    where = Where("scan file", key=name)
    # Programs that write while they scan leave the count at 0 or at its greatest value.
    if count in (0, 0xFFFFFFFF) and whole > 0 and rest == 0:
        text = f"The file does not say how many triangles it holds; all {whole} were read."
        return _binary(data, whole, name, (Remark("warning", text, where),))
    if 0 < count < whole or (count == whole and count > 0):
        extra = len(data) - HEADER_BYTES - FACET_BYTES * count
        text = f"{extra} bytes after the last of the {count} triangles were ignored."
        return _binary(data, count, name, (Remark("warning", text, where),))
    if count > whole >= 0 and len(data) > HEADER_BYTES and count < 2_000_000_000:
        raise UnreadableFile(
            f"The file says {count} triangles but ends after {max(whole, 0)}.",
            where,
            "Copy or export the scan again; the file was cut off.",
        )
    raise UnreadableFile("The file is no STL.", where, "Export the scan as STL, PLY, OBJ or GLB.")


def _binary(
    data: bytes, count: int, name: str, remarks: tuple[Remark, ...]
) -> tuple[Floats, str, tuple[Remark, ...]]:
    if count == 0:
        raise _empty(name)
    facets = np.frombuffer(data, dtype=_FACET, count=count, offset=HEADER_BYTES)
    return facets["corners"].astype(np.float64), "STL binary", remarks


def _text(data: bytes, name: str, most_triangles: int) -> tuple[Floats, str, tuple[Remark, ...]]:
    require_few(data.count(b"facet") // 2, most_triangles, name)
    ended = b"endsolid" in data[-2000:].lower()
    # The name of the solid is free text; it may hold any of the words below.
    parts = _NAMED.sub(b" ", data.lower()).split(b"vertex")[1:]
    if not parts:
        raise _empty(name)
    where = Where("scan file", key=name)
    try:
        words = b" ".join(word for part in parts for word in part.split(None, 3)[:3])
        corners = numbers_of(words).reshape(max(len(parts) // 3, 1), 3, 3)
    except ValueError as error:
        raise UnreadableFile(
            f"The text STL holds {len(parts)} corners that are no whole number of triangles, or no numbers.",
            where,
            "Copy or export the scan again; the file was cut off or damaged.",
        ) from error
    if ended:
        return corners, "STL text", ()
    text = "The text STL has no end line; its last part may be missing."
    return corners, "STL text", (Remark("warning", text, where),)


def _empty(name: str) -> NoSurface:
    return NoSurface(
        "The STL holds no triangles.",
        Where("scan file", key=name),
        "Export the scan as a surface with triangles.",
    )

"""What a scan file is, judged by its first bytes and then by its name; packed files are refused by name."""

from __future__ import annotations

import re

from ...errors import Remark, UnreadableFile, Where

_PACKED = (
    (b"\x1f\x8b", "packed with gzip"),
    (b"PK\x03\x04", "a zip package"),
    (b"DRACO", "packed with Draco"),
    (b"7z\xbc\xaf\x27\x1c", "packed with 7z"),
    (b"\xfd7zXZ\x00", "packed with xz"),
    (b"BZh", "packed with bzip2"),
    (b"\x28\xb5\x2f\xfd", "packed with zstd"),
)
_OBJ_LINE = re.compile(rb"^[ \t]*(v|f)[ \t]+-?[\d.]", re.MULTILINE)


def file_kind(data: bytes, ending: str, name: str) -> tuple[str, tuple[Remark, ...]]:
    """The kind to read it as ("stl", "ply", "obj" or "glb"), and a remark where the name says another.

    Raises
    ------
    UnreadableFile : packed data.
    """
    where = Where("scan file", key=name)
    for first, words in _PACKED:
        if data.startswith(first):
            raise UnreadableFile(
                f"The file is {words}; packed scans are not read.",
                where,
                "Unpack it, or export the scan without compression as STL, PLY, OBJ or GLB.",
            )
    found = _by_content(data) or ending
    if found == ending:
        return ending, ()
    text = f"The name ends in .{ending}, but the file is {found.upper()} and was read as that."
    return found, (Remark("warning", text, where),)


def _by_content(data: bytes) -> str:
    """The kind that the first bytes leave no doubt of, or ""."""
    if re.match(rb"ply[ \t]*\r?\n", data):
        return "ply"
    if data.startswith(b"glTF"):
        return "glb"
    head = data[:2000]
    if b"\0" not in head and head.lstrip()[:5].lower() != b"solid":
        kinds = {match.group(1) for match in _OBJ_LINE.finditer(data[:20_000])}
        if kinds:
            return "obj"
    return ""

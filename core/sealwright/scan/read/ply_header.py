"""What a PLY file says it holds, checked against its size before anything is allocated."""

from __future__ import annotations

from ...errors import NoSurface, UnreadableFile, Where
from .too_many import require_few

_BYTES = {
    "char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2, "uint16": 2,
    "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "float32": 4, "double": 8, "float64": 8,
}  # fmt: skip


def check_ply_header(data: bytes, name: str, most_triangles: int) -> None:
    """Refuse a PLY whose header promises more than the file can hold or is read, or no faces.

    Raises
    ------
    UnreadableFile : no PLY, no end of header, counts that are no numbers, or a file that was cut off.
    NoSurface : a point cloud.
    """
    where = Where("scan file", key=name)
    end = data.find(b"end_header", 0, 100_000)
    if not data.startswith(b"ply") or end < 0:
        raise UnreadableFile(
            "The file is no PLY.", where, "Export the scan as STL, PLY, OBJ or GLB, with the right ending."
        )
    counts, least = _promised(data[:end].decode("ascii", "replace").splitlines(), name)
    body = len(data) - end - len("end_header")
    if counts.get("face", 0) == 0:
        raise NoSurface(
            f"The PLY holds {counts.get('vertex', 0)} points and no triangles: it is a point cloud.",
            where,
            "Export the scan as a surface with triangles.",
        )
    require_few(max(counts.values()) if counts else 0, 2 * most_triangles, name)
    require_few(counts["face"], most_triangles, name)
    if least > body:
        raise UnreadableFile(
            f"The PLY promises {counts.get('vertex', 0)} points and {counts['face']} faces, at least {least} "
            f"bytes, but only {body} bytes follow its header.",
            where,
            "Copy or export the scan again; the file was cut off.",
        )


def _promised(lines: list[str], name: str) -> tuple[dict[str, int], int]:
    """Counts by element, and the fewest bytes that they can take."""
    text = any(line.split()[:2] == ["format", "ascii"] for line in lines)
    counts: dict[str, int] = {}
    element, least = "", 0
    for line in lines:
        words = line.split()
        if len(words) >= 3 and words[0] == "element":
            element = words[1]
            if not words[2].isdigit() or len(words[2]) > 10:
                raise UnreadableFile(
                    f"The PLY header counts {words[2]!r} {element} elements.",
                    Where("scan file", key=name),
                    "Export the scan again; the file is damaged.",
                )
            counts[element] = int(words[2])
        elif len(words) >= 3 and words[0] == "property" and element:
            # A text value takes two characters; a list of a face at least its count and three indices.
            kind = words[1] if words[1] != "list" else "uchar"
            each = 2 if text else _BYTES.get(kind, 1)
            least += counts[element] * each
    return counts, least

"""What a GLB file says it holds, checked before anything is laid out (glTF 2.0, sections 3 and 4)."""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Literal, TypedDict, cast

from ...errors import DesignError, UnreadableFile, Where

MOST_NODES = 5_000
MOST_DEPTH = 64
MOST_PIECES = 2_000
"""Pieces of surface in the laid-out scene; a scan has one to a few dozen."""

MOST_JSON = 20_000_000
_JSON, _BIN = 0x4E4F534A, 0x004E4942
_PACKED = {
    "KHR_draco_mesh_compression": "Draco",
    "EXT_meshopt_compression": "meshopt",
    "KHR_meshopt_compression": "meshopt",
}
_NEEDED = ("asset", "scene", "scenes", "nodes", "meshes", "accessors", "bufferViews", "buffers")
_KNOWN = ("KHR_mesh_quantization", "KHR_materials_unlit", "KHR_texture_transform", "KHR_texture_basisu")
_SIZES = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
_WIDE = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}


class _Piece(TypedDict, total=False):
    attributes: dict[str, object]
    indices: object
    mode: object


class _Mesh(TypedDict):
    primitives: list[_Piece]


class _Accessor(TypedDict, total=False):
    count: object
    componentType: int
    type: str
    sparse: object
    bufferView: int
    byteOffset: object


class _View(TypedDict, total=False):
    byteOffset: object
    byteLength: object
    byteStride: object


class _Parent(TypedDict, total=False):
    """A node; a scene has only the list of its nodes."""

    mesh: object
    children: list[object]
    nodes: list[object]


class _Tree(TypedDict, total=False):
    """The parts of glTF 2.0 that decide how much is laid out; only the checks below vouch for them."""

    extensionsUsed: list[object]
    extensionsRequired: list[object]
    buffers: list[dict[str, object]]
    bufferViews: list[_View]
    accessors: list[_Accessor]
    meshes: list[_Mesh]
    nodes: list[_Parent]
    scenes: list[_Parent]


def checked_glb(data: bytes, name: str, most_triangles: int) -> bytes:
    """The file with surfaces only (no pictures, bones or motions), when laying it out stays in bounds.

    Parameters
    ----------
    data : the file.
    name : of the file, for errors.
    most_triangles : of the laid-out scene; as many vertices three times.

    Raises
    ------
    UnreadableFile : no GLB 2.0, cut off, packed, parts in other files, or a scene that would grow too large.
    """
    where = Where("scan file", key=name)
    try:
        held, binary = _chunks(data)
        tree = cast(_Tree, held)
        _refuse_packed(tree, where)
        _check_accessors(tree, len(binary))
        triangles, vertices, pieces = _laid_out(tree)
    except DesignError:
        raise
    except _Large as error:
        raise UnreadableFile(
            f"The scene of the GLB {error}; a scan of a face never does.",
            where,
            "Export the scan alone, as one surface.",
        ) from error
    except (
        ValueError,
        KeyError,
        IndexError,
        TypeError,
        AttributeError,
        struct.error,
        RecursionError,
    ) as error:
        raise UnreadableFile(
            "The file cannot be read as GLB: it is cut off or damaged.", where, "Export the scan again."
        ) from error
    if triangles > most_triangles or vertices > 3 * most_triangles:
        raise UnreadableFile(
            f"The scene of the GLB has {triangles} triangles in {pieces} pieces when it is laid out; up to "
            f"{most_triangles} are read.",
            where,
            "Cut away all but the face, or export with fewer triangles.",
        )
    return _rebuilt({key: held[key] for key in _NEEDED if key in held}, tree, binary)


class _Large(Exception):
    """A scene that would grow out of bounds; says how."""


def _chunks(data: bytes) -> tuple[dict[str, object], bytes]:
    """The scene as plain data, and the binary part."""
    magic, version, length = struct.unpack_from("<4sII", data)
    size, kind = struct.unpack_from("<II", data, 12)
    if magic != b"glTF" or version != 2 or length > len(data) or kind != _JSON or 20 + size > len(data):
        raise ValueError("no whole GLB 2.0")
    if size > MOST_JSON:
        raise _Large(f"is described by {size / 1e6:.0f} MB of text")
    tree = json.loads(data[20 : 20 + size].decode("utf-8"))
    if not isinstance(tree, dict):
        raise TypeError("no scene")
    start = 20 + size
    if start + 8 > len(data):
        return tree, b""
    size, kind = struct.unpack_from("<II", data, start)
    if kind != _BIN or start + 8 + size > len(data):
        raise ValueError("cut off")
    return tree, data[start + 8 : start + 8 + size]


_EXTENSIONS: tuple[Literal["extensionsUsed", "extensionsRequired"], ...] = (
    "extensionsUsed",
    "extensionsRequired",
)


def _refuse_packed(tree: _Tree, where: Where) -> None:
    used = {str(e) for key in _EXTENSIONS for e in tree.get(key, [])}
    packed = sorted({_PACKED[e] for e in used if e in _PACKED})
    if packed:
        raise UnreadableFile(
            f"The surfaces of the GLB are packed with {' and '.join(packed)}, which is not read.",
            where,
            "Export the scan as GLB without mesh compression, or as STL, PLY or OBJ.",
        )
    strange = sorted(str(e)[:60] for e in tree.get("extensionsRequired", []) if e not in _KNOWN)
    if strange:
        raise UnreadableFile(
            f"The GLB needs the extension {strange[0]}, which is not read.",
            where,
            "Export the scan as plain GLB, or as STL, PLY or OBJ.",
        )
    if any(b.get("uri") is not None for b in tree.get("buffers", [])):
        raise UnreadableFile(
            "The GLB keeps its numbers in other files.", where, "Export it as one file with everything in it."
        )


def _check_accessors(tree: _Tree, held: int) -> None:
    """Every table of numbers must lie in the file, or be small."""
    views = tree.get("bufferViews", [])
    for accessor in tree.get("accessors", []):
        count = _count(accessor["count"])
        each = _SIZES[accessor["componentType"]] * _WIDE[accessor["type"]]
        if "sparse" in accessor or "bufferView" not in accessor:
            if count > 3_000_000:
                raise _Large(f"has a table of {count} numbers that are not in the file")
            continue
        view = views[accessor["bufferView"]]
        if _count(view.get("byteOffset", 0)) + _count(view["byteLength"]) > held:
            raise ValueError("a table reaches past the end")
        step = _count(view.get("byteStride", 0)) or each
        needed = _count(accessor.get("byteOffset", 0)) + step * (count - 1) + each
        if count and needed > _count(view["byteLength"]):
            raise ValueError("a table reaches past its place")


def _count(value: object) -> int:
    if type(value) is not int or value < 0:
        raise ValueError("no count")
    return value


def _laid_out(tree: _Tree) -> tuple[int, int, int]:
    """Triangles, vertices and pieces of the scene with every repetition counted."""
    nodes = tree.get("nodes", [])
    if len(nodes) > MOST_NODES:
        raise _Large(f"has {len(nodes)} nodes")
    sizes = [_mesh_size(mesh, tree["accessors"]) for mesh in tree.get("meshes", [])]
    total = [0, 0, 0]
    waiting = [(root, 1) for scene in tree.get("scenes", []) for root in scene.get("nodes", [])]
    seen = 0
    while waiting:
        number, depth = waiting.pop()
        seen += 1
        if depth > MOST_DEPTH or seen > MOST_NODES:
            raise _Large(f"has nodes nested over {MOST_DEPTH} deep, or over {MOST_NODES} of them")
        node = nodes[_count(number)]
        if "mesh" in node:
            total = [a + b for a, b in zip(total, sizes[_count(node["mesh"])], strict=True)]
        if total[2] > MOST_PIECES:
            raise _Large(f"has over {MOST_PIECES} pieces")
        waiting += [(child, depth + 1) for child in node.get("children", [])]
    return total[0], total[1], total[2]


def _mesh_size(mesh: _Mesh, accessors: Sequence[_Accessor]) -> tuple[int, int, int]:
    triangles = vertices = 0
    for piece in mesh["primitives"]:
        points = _count(accessors[_count(piece["attributes"]["POSITION"])]["count"])
        corners = _count(accessors[_count(piece["indices"])]["count"]) if "indices" in piece else points
        vertices += points
        triangles += corners // 3 if piece.get("mode", 4) == 4 else corners
    return triangles, vertices, len(mesh["primitives"])


def _rebuilt(kept: dict[str, object], tree: _Tree, binary: bytes) -> bytes:
    """The file again, with nothing but places and triangles."""
    kept["meshes"] = [
        {"primitives": [_plain(piece) for piece in mesh["primitives"]]} for mesh in tree.get("meshes", [])
    ]
    kept["nodes"] = [{k: v for k, v in n.items() if k in _PLACED} for n in tree.get("nodes", [])]
    text = json.dumps(kept).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<II", len(text), _JSON) + text + struct.pack("<II", len(binary), _BIN) + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


_PLACED = ("mesh", "children", "matrix", "translation", "rotation", "scale", "name")


def _plain(piece: _Piece) -> dict[str, object]:
    kept = {key: value for key, value in piece.items() if key in ("indices", "mode")}
    return {"attributes": {"POSITION": piece["attributes"]["POSITION"]}, **kept}

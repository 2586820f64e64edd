"""Read a scan file of any common format, or say exactly why it cannot be one."""

from __future__ import annotations

import hashlib
import io
import logging
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...errors import BadNumbers, NoSurface, Remark, UnreadableFile, Where
from ...files import contents
from ...mesh import Bools, Floats, TriMesh, trimesh_of
from ..repair.weld import merge_equal_vertices
from .glb_check import checked_glb
from .kinds import file_kind
from .obj_reader import read_obj
from .ply_header import check_ply_header
from .stl_reader import read_stl
from .too_many import require_few

Indices = NDArray[np.int64]
FORMATS = ("stl", "ply", "obj", "glb")
MAX_TRIANGLES = 4_000_000
"""Preparing takes about 430 bytes a triangle at its peak (3.8 million: 1.65 GB); 2 GiB is the ceiling."""

MAX_BYTES = 600_000_000
"""Four million triangles as text, with colours and normals."""

MAX_COORDINATE = 1e9
LOST_SHARE = 0.01
"""Share of triangles with corners that are no numbers, up to which they are dropped instead of refused."""

_AGAIN = "Export the scan again as STL, PLY, OBJ or GLB with triangles."


@dataclass(frozen=True, eq=False)
class ScanFile:
    """A scan as it lies in its file.

    Attributes
    ----------
    mesh : in file units, equal vertices merged; nothing else was changed.
    file_format : "STL text", "STL binary", "PLY", "OBJ" or "GLB".
    stated_unit : "m" where the format fixes it (glTF), None elsewhere.
    remarks : what was odd in the file.
    sha256 : of the bytes that were read.
    """

    mesh: TriMesh
    file_format: str
    stated_unit: str | None
    remarks: tuple[Remark, ...] = ()
    sha256: str = ""


def read_scan(path: str | Path) -> ScanFile:
    """Read a scan.

    Raises
    ------
    UnreadableFile : missing, empty, cut off, too large, of unknown ending, or not what its name says.
    NoSurface : a point cloud, or no triangles.
    BadNumbers : more than 1 % of the triangles have corners that are no numbers, or indices out of range.
    """
    path = Path(path)
    name, ending = path.name, path.suffix.lower().lstrip(".")
    if ending not in FORMATS:
        raise UnreadableFile(
            f"Files ending in {path.suffix or 'nothing'} are not read.",
            Where("scan file", key=name),
            "Export the scan as STL, PLY, OBJ or GLB (not glTF with separate files).",
        )
    data = contents(path, "scan file", MAX_BYTES)
    return replace(scan_from_bytes(data, ending, name), sha256=hashlib.sha256(data).hexdigest())


def scan_from_bytes(data: bytes, ending: str, name: str) -> ScanFile:
    """Read a scan from the contents of a file; for arguments and errors see `read_scan`."""
    if not data.strip(b"\0 \t\r\n"):
        raise UnreadableFile("The file is empty.", Where("scan file", key=name), _AGAIN)
    # Damaged numbers may overflow or be no numbers; `_sound` deals with them, so NumPy need not warn.
    with np.errstate(all="ignore"):
        return _read(data, ending, name)


def _read(data: bytes, ending: str, name: str) -> ScanFile:
    """Read the contents by what they are; the ending of the name counts where they leave a doubt."""
    ending, named = file_kind(data, ending, name)
    if ending == "stl":
        corners, kind, remarks = read_stl(data, name, MAX_TRIANGLES)
        vertices, faces = corners.reshape(-1, 3), np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3)
    elif ending == "obj":
        vertices, faces = read_obj(data, name, MAX_TRIANGLES)
        kind, remarks = "OBJ", ()
    else:
        if ending == "ply":
            check_ply_header(data, name, MAX_TRIANGLES)
        else:
            data = checked_glb(data, name, MAX_TRIANGLES)
        vertices, faces = _through_library(data, ending, name)
        kind, remarks = ending.upper(), ()
    mesh, lost = _sound(vertices, faces, name)
    return ScanFile(mesh, kind, "m" if ending == "glb" else None, named + remarks + lost)


def _through_library(data: bytes, ending: str, name: str) -> tuple[Floats, Indices]:
    """Vertices and triangles of a PLY or GLB file, in the frame of its scene."""
    import trimesh  # a headless-only library, needed only here

    logging.getLogger("trimesh").setLevel(logging.CRITICAL)
    try:
        scene = trimesh.load_scene(io.BytesIO(data), file_type=ending, process=False)
        parts = [g for g in scene.dump() if isinstance(g, trimesh.Trimesh) and len(g.faces)]
        points = sum(len(getattr(g, "vertices", ())) for g in scene.geometry.values())
        vertices = [np.asarray(part.vertices, dtype=np.float64) for part in parts]
        faces = [np.asarray(part.faces, dtype=np.int64) for part in parts]
    # The library fails on damaged bytes in every imaginable way; all of them mean the same to the maker.
    except Exception as error:
        raise UnreadableFile(
            f"The file cannot be read as {ending.upper()} ({type(error).__name__}).",
            Where("scan file", key=name),
            _AGAIN,
        ) from error
    if not parts:
        raise NoSurface(
            f"The file holds {points} points and no triangles.", Where("scan file", key=name), _AGAIN
        )
    starts = np.cumsum([0, *[len(v) for v in vertices[:-1]]])
    _check_indices(vertices, faces, name)
    return np.vstack(vertices), np.vstack([f + s for f, s in zip(faces, starts, strict=True)])


def _check_indices(vertices: list[Floats], faces: list[Indices], name: str) -> None:
    """Refuse triangles that point at vertices of another part or at none."""
    for v, f in zip(vertices, faces, strict=True):
        wrong = np.flatnonzero((f < 0).any(axis=1) | (f >= len(v)).any(axis=1))
        if len(wrong) or f.ndim != 2 or f.shape[1] != 3 or v.ndim != 2 or v.shape[1] != 3:
            raise BadNumbers(
                f"{len(wrong)} triangles point at vertices that do not exist (there are {len(v)}).",
                Where("scan file", key=name, indices=tuple(int(i) for i in wrong[:100])),
                "Export the scan again; the file is damaged.",
            )


def _sound(vertices: Floats, faces: Indices, name: str) -> tuple[TriMesh, tuple[Remark, ...]]:
    """A checked mesh with equal vertices merged; corners that are no numbers are dropped if they are few."""
    require_few(len(faces), MAX_TRIANGLES, name)
    remarks: tuple[Remark, ...] = ()
    good: Bools = np.asarray((np.abs(vertices) < MAX_COORDINATE).all(axis=1))
    if not good.all():
        vertices, faces, remarks = _without_bad(vertices, faces, good, name)
    if not np.ptp(vertices, axis=0).any():
        raise NoSurface(
            f"All corners of the {len(faces)} triangles lie on one point.",
            Where("scan file", key=name),
            _AGAIN,
        )
    return trimesh_of(*merge_equal_vertices(vertices, faces), "scan"), remarks


def _without_bad(
    vertices: Floats, faces: Indices, good: Bools, name: str
) -> tuple[Floats, Indices, tuple[Remark, ...]]:
    keep = good[faces].all(axis=1)
    lost, bad = int((~keep).sum()), int((~good).sum())
    where = Where("scan file", key=name, indices=tuple(int(i) for i in np.flatnonzero(~good)[:100]))
    if lost > LOST_SHARE * len(faces):
        raise BadNumbers(
            f"{bad} points of the scan are no usable numbers; {lost} of {len(faces)} triangles hang on them.",
            where,
            "Export the scan again; the file is damaged.",
        )
    text = f"{bad} points that are no usable numbers were dropped, and {lost} triangles with them."
    renumber = np.cumsum(good) - 1
    return vertices[good], renumber[faces[keep]], (Remark("warning", text, where),)

"""Read the triangles of a Wavefront OBJ file; colours, textures, groups and normals are not needed."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ...errors import BadNumbers, NoSurface, UnreadableFile, Where
from ...mesh import Floats
from .text_numbers import numbers_of
from .too_many import require_few

_AFTER_SLASH = re.compile(rb"/[^ \t\r\n]*")


def read_obj(data: bytes, name: str, most_triangles: int) -> tuple[Floats, NDArray[np.int64]]:
    """Vertices (n, 3) and triangles (m, 3); polygons are cut into fans.

    Raises
    ------
    UnreadableFile : values that are no numbers.
    NoSurface : no faces.
    BadNumbers : a face points at a vertex that does not exist.
    """
    where = Where("scan file", key=name)
    require_few(max(data.count(b"\nf"), data.count(b"\nv ") // 3), most_triangles, name)
    lines = _lines(data)
    points = [line[2:] for line in lines if line[:2] in (b"v ", b"v\t")]
    faces = [line[2:] for line in lines if line[:2] in (b"f ", b"f\t")]
    if not faces:
        raise NoSurface(
            f"The OBJ holds {len(points)} points and no faces.",
            where,
            "Export the scan as a surface with triangles.",
        )
    try:
        vertices = _table(points)
        joined = b"\n".join(faces)
        if b"/" in joined:
            faces = _AFTER_SLASH.sub(b"", joined).split(b"\n")
        corners = _fans(faces)
    except (ValueError, IndexError, OverflowError) as error:
        raise UnreadableFile(
            "The OBJ holds a line that cannot be read as a point or a face.",
            where,
            "Export the scan again; the file was cut off or damaged.",
        ) from error
    require_few(len(corners), most_triangles, name)
    if (corners < 0).any():  # these count back from the last vertex above the face
        corners = np.where(corners < 0, corners + _vertices_above(lines, faces)[:, None], corners - 1)
    else:
        corners = corners - 1
    wrong = np.flatnonzero((corners < 0).any(axis=1) | (corners >= len(vertices)).any(axis=1))
    if len(wrong):
        raise BadNumbers(
            f"{len(wrong)} faces of the OBJ point at vertices that do not exist (there are {len(vertices)}).",
            Where("scan file", key=name, indices=tuple(int(i) for i in wrong[:100])),
            "Export the scan again; the file is damaged.",
        )
    return vertices, corners


def _lines(data: bytes) -> list[bytes]:
    """The lines, continued ones joined, without blanks in front."""
    lines = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ").splitlines()
    indented = any(mark in data for mark in (b"\n ", b"\n\t", b"\r ", b"\r\t")) or data[:1] in (b" ", b"\t")
    return [line.lstrip() for line in lines] if indented else lines


def _vertices_above(lines: list[bytes], faces: list[bytes]) -> NDArray[np.int64]:
    """For every triangle, how many vertices stand above the line of its face (m,)."""
    is_point = np.array([line[:2] in (b"v ", b"v\t") for line in lines])
    is_face = np.array([line[:2] in (b"f ", b"f\t") for line in lines])
    above = np.cumsum(is_point)[is_face]
    return np.repeat(above, np.array([len(line.split()) for line in faces]) - 2)


def _table(lines: list[bytes]) -> Floats:
    """The first three numbers of each line (n, 3)."""
    wide = len(lines[0].split()) if lines else 0
    values = numbers_of(b" ".join(lines))
    if wide >= 3 and len(values) == wide * len(lines):
        return values.reshape(-1, wide)[:, :3]
    rows = [line.split()[:3] for line in lines]
    if any(len(row) < 3 for row in rows) or not rows:
        raise ValueError("a point with fewer than three numbers")
    return numbers_of(b" ".join(word for row in rows for word in row)).reshape(-1, 3)


def _fans(lines: list[bytes]) -> NDArray[np.int64]:
    """Triangles (m, 3) of polygons, one per line."""
    sizes = np.array([len(line.split()) for line in lines])
    if sizes.min() < 3:
        raise ValueError("a face with fewer than three corners")
    values = numbers_of(b" ".join(lines))
    if len(values) != sizes.sum() or (values != np.rint(values)).any() or np.abs(values).max() > 2**31:
        raise ValueError("a corner that is no whole number")
    corners = values.astype(np.int64)
    first = np.cumsum(sizes) - sizes
    fan = np.repeat(np.arange(len(lines)), sizes - 2)
    step = np.arange(len(fan)) - np.repeat(np.cumsum(sizes - 2) - (sizes - 2), sizes - 2)
    start = first[fan]
    return np.stack([corners[start], corners[start + step + 1], corners[start + step + 2]], axis=1)

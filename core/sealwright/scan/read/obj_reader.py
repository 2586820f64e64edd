"""Read the triangles of a Wavefront OBJ file; colours, textures, groups and normals are not needed."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ...errors import BadNumbers, NoSurface, UnreadableFile, Where
from ...mesh import Floats
from .text_numbers import numbers_of

_AFTER_SLASH = re.compile(rb"/[^ \t\r\n]*")


def read_obj(data: bytes, name: str) -> tuple[Floats, NDArray[np.int64]]:
    """Vertices (n, 3) and triangles (m, 3); polygons are cut into fans.

    Raises
    ------
    UnreadableFile : values that are no numbers.
    NoSurface : no faces.
    BadNumbers : a face points at a vertex that does not exist.
    """
    where = Where("scan file", key=name)
    lines = data.replace(b"\\\n", b" ").splitlines()
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
        if b"/" in faces[0]:
            faces = _AFTER_SLASH.sub(b"", b"\n".join(faces)).split(b"\n")
        corners = _fans(faces)
    except (ValueError, IndexError, OverflowError) as error:
        raise UnreadableFile(
            "The OBJ holds a line that cannot be read as a point or a face.",
            where,
            "Export the scan again; the file was cut off or damaged.",
        ) from error
    # Negative indices count back from the last vertex; files with them list all vertices first in practice.
    corners = np.where(corners < 0, corners + len(vertices), corners - 1)
    wrong = np.flatnonzero((corners < 0).any(axis=1) | (corners >= len(vertices)).any(axis=1))
    if len(wrong):
        raise BadNumbers(
            f"{len(wrong)} faces of the OBJ point at vertices that do not exist (there are {len(vertices)}).",
            Where("scan file", key=name, indices=tuple(int(i) for i in wrong[:100])),
            "Export the scan again; the file is damaged.",
        )
    return vertices, corners


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

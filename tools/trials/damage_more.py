"""More seeded damage: what exports do to a mesh, and what writers and disks do to a file."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
from sealwright.mesh import TriMesh, trimesh_of

from .damage import KINDS, Rng

Marks = dict[str, np.ndarray]


def doubled(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """A patch twice, the second time wound the other way round, with vertices of its own."""
    centre = mesh.vertices[rng.integers(len(mesh.vertices))]
    some = np.linalg.norm(mesh.vertices[mesh.faces[:, 0]] - centre, axis=1) < rng.uniform(5.0, 40.0)
    again = mesh.faces[some][:, :: int(rng.choice([1, -1]))] + len(mesh.vertices)
    return trimesh_of(np.vstack([mesh.vertices, mesh.vertices]), np.vstack([mesh.faces, again]))


def fins(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """Triangles that stand on edges of the surface and end freely: edges of three triangles."""
    at = rng.choice(len(mesh.faces), rng.integers(1, 30), replace=False)
    feet = mesh.faces[at][:, :2]
    tips = mesh.vertices[feet].mean(axis=1) + rng.normal(scale=4.0, size=(len(at), 3))
    new = np.column_stack([feet, len(mesh.vertices) + np.arange(len(at))])
    return trimesh_of(np.vstack([mesh.vertices, tips]), np.vstack([mesh.faces, new]))


def islands(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """Loose single triangles about the head, as sensors leave behind."""
    count = int(rng.integers(1, 60))
    place = marks["subnasale"] + rng.normal(scale=80.0, size=(count, 1, 3))
    corners = (place + rng.normal(scale=2.0, size=(count, 3, 3))).reshape(-1, 3)
    new = np.arange(3 * count).reshape(-1, 3) + len(mesh.vertices)
    return trimesh_of(np.vstack([mesh.vertices, corners]), np.vstack([mesh.faces, new]))


def folded(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """A patch pushed through the rest: the surface crosses itself."""
    centre = mesh.vertices[rng.integers(len(mesh.vertices))]
    away = np.linalg.norm(mesh.vertices - centre, axis=1)
    push = np.exp(-0.5 * (away / rng.uniform(3.0, 8.0)) ** 2)[:, None] * rng.normal(scale=8.0, size=3)
    return TriMesh(mesh.vertices + push, mesh.faces)


def turned_axes(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """Mirrored by a careless export, winding and all; the truth points are mirrored with it."""
    for name in marks:
        marks[name] = marks[name] * [-1.0, 1.0, 1.0]
    return TriMesh(mesh.vertices * [-1.0, 1.0, 1.0], mesh.faces)


def few(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """Five to two hundred triangles are left."""
    return mesh.submesh(np.arange(len(mesh.faces)) < rng.integers(5, 200))


def half(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """One side of the face is missing beyond a plane that leans."""
    lean = rng.normal(size=3) * [1.0, 0.2, 0.2]
    side = (mesh.vertices - marks["subnasale"]) @ (lean / np.linalg.norm(lean)) < rng.uniform(-10.0, 40.0)
    return mesh.submesh(side[mesh.faces].all(axis=1))


def dense(mesh: TriMesh, rng: Rng, marks: Marks) -> TriMesh:
    """Every triangle cut into four."""
    return subdivided(mesh)


def subdivided(mesh: TriMesh) -> TriMesh:
    """The mesh with its edges halved."""
    import trimesh

    v, f = trimesh.remesh.subdivide(mesh.vertices, mesh.faces)
    return trimesh_of(v, f)


MESH_KINDS: tuple[Callable[[TriMesh, Rng, Marks], TriMesh], ...] = (
    *KINDS, doubled, fins, islands, folded, turned_axes, few, half, dense,
)  # fmt: skip


def written(mesh: TriMesh, kind: str) -> bytes:
    """The mesh as a file of a general library; kinds as it names them, and "ply_ascii"."""
    import trimesh

    loaded = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    if kind == "ply_ascii":
        data = loaded.export(file_type="ply", encoding="ascii")
    else:
        data = loaded.export(file_type=kind)
    return data.encode() if isinstance(data, str) else bytes(data)


def whole(data: bytes, rng: Rng) -> bytes:
    """As it was written."""
    return data


def cut(data: bytes, rng: Rng) -> bytes:
    """Cut off somewhere."""
    return data[: int(rng.integers(0, len(data)))]


def no_bytes(data: bytes, rng: Rng) -> bytes:
    """Empty, or as long as before and all zeros."""
    return bytes(int(rng.choice([0, 1, len(data)])))


def lying_count(data: bytes, rng: Rng) -> bytes:
    """The first count of a binary STL, or a digit of the header, is another one."""
    changed = bytearray(data)
    if rng.random() < 0.5:
        changed[80:84] = struct.pack("<I", int(rng.choice([0, 1, 2**31, 2**32 - 1, len(data)])))
    else:
        digits = [at for at, byte in enumerate(data[:400]) if chr(byte).isdigit()]
        for at in rng.choice(digits, min(3, len(digits)), replace=False) if digits else ():
            changed[at] = ord(str(rng.integers(10)))
    return bytes(changed)


def says_solid(data: bytes, rng: Rng) -> bytes:
    """A header that begins like text on what may be binary."""
    return b"solid scan facet".ljust(80) + data[80:]


def flipped_bytes(data: bytes, rng: Rng) -> bytes:
    """Some bytes anywhere are others: also coordinates that are no numbers, or huge."""
    changed = bytearray(data)
    for at in rng.integers(0, len(data), rng.integers(1, 200)):
        changed[at] = rng.integers(256)
    return bytes(changed)


def not_numbers(data: bytes, rng: Rng) -> bytes:
    """Four bytes in a row are a float that is no number, here and there."""
    changed = bytearray(data)
    for at in rng.integers(84, max(len(data) - 4, 85), rng.integers(1, 30)):
        changed[at : at + 4] = struct.pack("<f", float(rng.choice([np.nan, np.inf, -np.inf, 1e38])))
    return bytes(changed)


def two_files(data: bytes, rng: Rng) -> bytes:
    """Text and binary mixed: the file once more behind itself, or a line of text in its middle."""
    middle = len(data) // 2
    return data + data if rng.random() < 0.5 else data[:middle] + b"\nvertex 1 2 nan\nf 1 2\n" + data[middle:]


FILE_KINDS: tuple[Callable[[bytes, Rng], bytes], ...] = (
    cut, no_bytes, lying_count, says_solid, flipped_bytes, not_numbers, two_files,
)  # fmt: skip

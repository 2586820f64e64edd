# SPDX-License-Identifier: GPL-3.0-or-later
"""Blender meshes to the core's and back; the only place that reads or writes mesh data."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..core.errors import DesignError, NoSurface, Where
from ..core.mesh import TriMesh, trimesh_of

if TYPE_CHECKING:
    from mathutils import Matrix

Floats = NDArray[np.float64]
PAINTED = 0.5  # weight from which on a point counts as painted


class InEditMode(DesignError):
    """The mesh is being edited; its data is not complete until edit mode is left."""

    code = "edit-mode"


def matrix_array(matrix: Matrix) -> Floats:
    """A Blender 4x4 matrix as a float64 array."""
    return np.array([matrix[row][:] for row in range(4)], dtype=np.float64)


def object_to_trimesh(
    obj: bpy.types.Object, depsgraph: bpy.types.Depsgraph, mm_per_unit: float, role: str = "scan"
) -> TriMesh:
    """The object as it is seen, in world space and millimetres.

    Modifiers, parents, non-uniform and mirroring scales count; the object is not changed. A mirroring
    matrix turns the triangles round, so that outside stays outside.

    Parameters
    ----------
    obj : a mesh object in object mode.
    depsgraph : evaluated dependency graph of the scene.
    mm_per_unit : millimetres in one world unit.
    role : what it is, for error messages.

    Raises
    ------
    InEditMode : the object is in edit mode.
    NoSurface, BadNumbers : no triangles, or numbers that are not finite.
    """
    if obj.mode == "EDIT":
        raise InEditMode(
            f"{obj.name} is in edit mode.", Where(role, key=obj.name), "Leave edit mode (Tab) and try again."
        )
    seen = obj.evaluated_get(depsgraph)
    mesh = seen.to_mesh()
    if mesh is None:
        raise NoSurface(f"{obj.name} has no surface.", Where(role, key=obj.name), "Choose a mesh object.")
    try:
        points, faces = _arrays(mesh)
        matrix = matrix_array(seen.matrix_world)
    finally:
        seen.to_mesh_clear()
    linear = matrix[:3, :3]
    world = (points @ linear.T + matrix[:3, 3]) * mm_per_unit
    if np.linalg.det(linear) < 0:
        faces = faces[:, ::-1]
    return trimesh_of(world, faces, role)


def selected_triangles(obj: bpy.types.Object, mm_per_unit: float) -> tuple[TriMesh, NDArray[np.int64]]:
    """A mesh object as it is stored, in world space and millimetres, and its selected triangles (k,).

    Faces are selected in edit mode, also while it lasts; the selection stays when it is left. Modifiers do
    not count, since they may make other faces.

    Raises
    ------
    NoSurface, BadNumbers : no triangles, or numbers that are not finite.
    """
    mesh = obj.data
    assert isinstance(mesh, bpy.types.Mesh)
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    points, faces = _arrays(mesh)
    owner = np.empty(len(faces), dtype=np.int32)
    mesh.loop_triangles.foreach_get("polygon_index", owner)
    chosen = np.empty(len(mesh.polygons), dtype=bool)
    mesh.polygons.foreach_get("select", chosen)
    matrix = matrix_array(obj.matrix_world)
    world = (points @ matrix[:3, :3].T + matrix[:3, 3]) * mm_per_unit
    return trimesh_of(world, faces, "scan"), np.flatnonzero(chosen[owner])


def _arrays(mesh: bpy.types.Mesh) -> tuple[Floats, NDArray[np.int32]]:
    """Vertices (n, 3) and loop triangles (m, 3) of a Blender mesh, copied."""
    points, _ = _stored(mesh)
    mesh.calc_loop_triangles()
    faces = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", faces)
    return points.reshape(-1, 3).astype(np.float64), faces.reshape(-1, 3)


def _stored(mesh: bpy.types.Mesh) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """Coordinates (3 n,) and vertices of the corners (l,) as Blender stores them.

    Read as attributes, which is a plain copy (0.1 ms for 200 000 triangles); by way of the vertices and
    loops it takes 50 ms, too long for every edit. In edit mode attributes are empty.
    """
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    corners = np.empty(len(mesh.loops), dtype=np.int32)
    if mesh.is_editmode:
        mesh.vertices.foreach_get("co", points)
        mesh.loops.foreach_get("vertex_index", corners)
        return points, corners
    layers: Any = mesh.attributes
    if len(points):
        layers["position"].data.foreach_get("vector", points)
    if len(corners):
        layers[".corner_vert"].data.foreach_get("value", corners)
    return points, corners


def fill_mesh(mesh: bpy.types.Mesh, points: Floats, faces: NDArray[Any]) -> None:
    """Replace a mesh's geometry with points (n, 3) in Blender units and faces (m, 3) or (m, 4)."""
    mesh.clear_geometry()
    corners = int(faces.shape[1])
    mesh.vertices.add(len(points))
    layers: Any = mesh.attributes
    layers["position"].data.foreach_set("vector", np.ascontiguousarray(points, dtype=np.float32).ravel())
    mesh.loops.add(faces.size)
    layers[".corner_vert"].data.foreach_set("value", np.ascontiguousarray(faces, dtype=np.int32).ravel())
    mesh.polygons.add(len(faces))
    mesh.polygons.foreach_set("loop_start", np.arange(0, faces.size, corners, dtype=np.int32))
    mesh.update(calc_edges=True)


def mesh_from_trimesh(name: str, mesh: TriMesh, mm_per_unit: float) -> bpy.types.Mesh:
    """A new Blender mesh of a core mesh; vertices divided by ``mm_per_unit``."""
    made = bpy.data.meshes.new(name)
    fill_mesh(made, mesh.vertices / mm_per_unit, mesh.faces)
    return made


CORNERS = "sealwright_corners"  # on a mesh of ours: hash of its corners as it was written


def corners_stamp(mesh: bpy.types.Mesh) -> str:
    """A short hash of which points a mesh's faces join."""
    return hashlib.sha256(_stored(mesh)[1].tobytes()).hexdigest()[:16]


def same_corners(mesh: bpy.types.Mesh) -> bool:
    """Whether the faces of a mesh still join the points that they were written with."""
    return bool(mesh.get(CORNERS) == corners_stamp(mesh))  # type: ignore[no-untyped-call]


def attribute_vectors(mesh: bpy.types.Mesh, name: str) -> Floats:
    """A vector attribute (n, 3) of the points."""
    layers: Any = mesh.attributes
    values = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    layers[name].data.foreach_get("vector", values)
    return values.reshape(-1, 3).astype(np.float64)


def store_vectors(mesh: bpy.types.Mesh, name: str, values: Floats) -> None:
    """Keep vectors (n, 3) at the points under a name."""
    layers: Any = mesh.attributes
    made = layers.new(name, "FLOAT_VECTOR", "POINT")
    made.data.foreach_set("vector", np.ascontiguousarray(values, dtype=np.float32).ravel())


def chosen_triangles(obj: bpy.types.Object, mm_per_unit: float, group: str) -> tuple[TriMesh, NDArray[Any]]:
    """A mesh as `selected_triangles`, and the triangles whose corners all lie in a vertex group by half.

    Raises
    ------
    NoSurface, BadNumbers : no triangles, or numbers that are not finite.
    """
    mesh, _ = selected_triangles(obj, mm_per_unit)
    number, data = obj.vertex_groups[group].index, obj.data
    assert isinstance(data, bpy.types.Mesh)
    weights = np.zeros(len(data.vertices))
    for vertex in data.vertices:
        for element in vertex.groups:
            if element.group == number:
                weights[vertex.index] = element.weight
    return mesh, np.flatnonzero((weights[mesh.faces] >= PAINTED).all(axis=1))


def geometry_stamp(mesh: bpy.types.Mesh) -> str:
    """A short hash of a mesh's points and corners, to see whether someone edited it by hand."""
    points, corners = _stored(mesh)
    return hashlib.sha256(points.tobytes() + corners.tobytes()).hexdigest()[:16]


def shade_flat(mesh: bpy.types.Mesh) -> None:
    """Flat shading; Blender's own function of this name sets the faces one by one in Python."""
    layers: Any = mesh.attributes
    sharp = layers.get("sharp_face") or layers.new("sharp_face", "BOOLEAN", "FACE")
    sharp.data.foreach_set("value", np.ones(len(mesh.polygons), dtype=bool))

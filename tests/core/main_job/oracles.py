"""Measures by libraries that the core does not measure with.

Distances and crossings: VCG (pymeshlab). Crossings in exact arithmetic: CGAL (through libigl).
Watertightness, volume, Euler number: trimesh. Pieces and manifold corners: libigl. Inside and outside: libigl
with angle-weighted pseudonormals (Baerentzen and Aanaes 2005), which the core does not use. Rays: embree
through trimesh.

VCG's topological measures are left alone (pymeshlab 2025.7): once a process has asked for four of them, on
any mesh, VCG tells of crossing triangles where there are none, to the end of the process.
"""

from __future__ import annotations

import igl
import numpy as np
import pymeshlab
import trimesh
from igl.copyleft import cgal
from scipy.spatial import cKDTree


def as_trimesh(mesh) -> trimesh.Trimesh:
    """Vertices and faces as a trimesh, nothing merged or dropped."""
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def _meshset(*meshes) -> pymeshlab.MeshSet:
    meshes_in = pymeshlab.MeshSet()
    for mesh in meshes:
        meshes_in.add_mesh(mesh)
    return meshes_in


def _vcg(mesh) -> pymeshlab.Mesh:
    return pymeshlab.Mesh(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def distance(points: np.ndarray, mesh, furthest_mm: float = 60.0) -> np.ndarray:
    """Unsigned distances (n,) of points (n, 3) to a mesh."""
    both = _meshset(_vcg(mesh), pymeshlab.Mesh(np.asarray(points)))
    both.compute_scalar_by_distance_from_another_mesh_per_vertex(
        measuremesh=1, refmesh=0, signeddist=False, maxdist=pymeshlab.PureValue(furthest_mm)
    )
    return np.asarray(both.mesh(1).vertex_scalar_array())


def closest(points: np.ndarray, mesh) -> np.ndarray:
    """The closest points (n, 3) on a mesh."""
    faces = np.asarray(mesh.faces).astype(np.int64)
    return igl.point_mesh_squared_distance(points, np.asarray(mesh.vertices), faces)[2]


def crossings(mesh) -> int:
    """Number of pairs of triangles that cross, in exact arithmetic (CGAL)."""
    vertices = np.array(mesh.vertices, order="F")
    faces = np.array(mesh.faces, dtype=np.int64, order="F")
    return len(cgal.remesh_self_intersections(vertices, faces, detect_only=True)[2])


def crossings_by_meshlab(mesh) -> int:
    """Number of triangles that cross others by VCG in floating point.

    For surfaces without flat parts only: of triangles in one plane that lie beside each other it takes some
    for crossing (seen on the flat end of a thread, where exact arithmetic finds them apart).
    """
    one = _meshset(_vcg(mesh))
    one.compute_selection_by_self_intersections_per_face()
    return int(one.current_mesh().face_selection_array().sum())


def pieces(mesh) -> int:
    """How many pieces triangles make that share sides."""
    return int(igl.facet_components(np.asarray(mesh.faces, dtype=np.int64))[0])


def is_manifold(mesh) -> bool:
    """Whether every side has two triangles at most, and every corner one fan of triangles round it."""
    faces = np.asarray(mesh.faces, dtype=np.int64)
    return bool(igl.is_edge_manifold(faces)[0]) and bool(np.all(igl.is_vertex_manifold(faces)))


def depth_inside(points: np.ndarray, scan: trimesh.Trimesh) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How deep points that are near the scan lie behind its skin.

    Returns
    -------
    depth : (m,) mm, negative in front.
    normal : (m, 3) of the nearest triangle.
    points : (m, 3) which they are.

    Points whose nearest skin is a border edge of the scan are left out: there is no skin to be behind of.
    """
    vertices, faces = np.asarray(scan.vertices), np.asarray(scan.faces).astype(np.int64)
    # The longest scan triangles are about 6 mm: a point 2 mm off the skin has a corner within 6 mm.
    points = points[cKDTree(vertices).query(points)[0] < 6.0]
    signed, triangle, place, _ = igl.signed_distance(
        points, vertices, faces, sign_type=igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    )
    keep = ~_on_border(scan, triangle, place)
    return -signed[keep], scan.face_normals[triangle[keep]], points[keep]


def _on_border(scan: trimesh.Trimesh, triangle: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Which places (m, 3) on given triangles lie on an edge that only one triangle has."""
    edges = np.sort(scan.edges, axis=1)
    _, first, uses = np.unique(edges, axis=0, return_index=True, return_counts=True)
    border = np.zeros(len(edges), dtype=bool)
    border[first[uses == 1]] = True
    border = border.reshape(-1, 3)[triangle]
    corner = np.asarray(scan.triangles)[triangle]
    weight = trimesh.triangles.points_to_barycentric(corner, place)
    # edge k runs from corner k to k + 1: a point lies on it where the weight of the third corner is zero
    opposite = weight[:, [2, 0, 1]]
    return (border & (opposite < 1e-6)).any(axis=1)


def along_normals(mesh: trimesh.Trimesh, places: np.ndarray, inward: np.ndarray) -> np.ndarray:
    """Way through the solid (n,) in mm from places (n, 3) on its surface along directions, by embree rays."""
    start = places + 1e-4 * inward
    hits, ray, _ = mesh.ray.intersects_location(start, inward, multiple_hits=False)
    way = np.full(len(places), np.nan)
    way[ray] = np.linalg.norm(hits - start[ray], axis=1)
    return way

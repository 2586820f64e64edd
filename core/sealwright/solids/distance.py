"""Distances to a mesh by libigl's bounding volume hierarchy."""

from __future__ import annotations

from types import ModuleType
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ..errors import BackendUnavailable, Where
from ..mesh import Floats, Ints, TriMesh

_KEPT = 250_000  # triangles of a mesh whose tree is kept as long as the mesh; about 100 bytes each
_trees: WeakKeyDictionary[TriMesh, tuple[Floats, NDArray[np.int64], Any]] = WeakKeyDictionary()


class MeshDistance:
    """Closest points on one mesh; its search tree is built once, and kept with the mesh.

    Parameters
    ----------
    mesh : what distances are measured to.

    Raises
    ------
    BackendUnavailable : libigl is not installed.
    """

    def __init__(self, mesh: TriMesh) -> None:
        found = _trees.get(mesh)
        if found is None:
            vertices = np.array(mesh.vertices, order="F")
            faces = np.array(mesh.faces, dtype=np.int64, order="F")
            tree = _igl().AABB()
            tree.init(vertices, faces)
            found = vertices, faces, tree
            if len(faces) <= _KEPT:
                _trees[mesh] = found
        self._vertices, self._faces, self._tree = found

    def to(self, points: Floats) -> Floats:
        """Unsigned distances (n,) in mm of points (n, 3)."""
        return self.closest(points)[0]

    def closest(self, points: Floats) -> tuple[Floats, Ints, Floats]:
        """Distances (n,), triangles (n,) and closest points (n, 3) for points (n, 3)."""
        if len(points) == 0:
            return np.zeros(0), np.zeros(0, dtype=np.int32), np.zeros((0, 3))
        query = np.array(points, dtype=np.float64, order="F")
        squared, triangle, closest = self._tree.squared_distance(self._vertices, self._faces, query)
        distance = np.sqrt(np.maximum(np.asarray(squared).ravel(), 0.0))
        return distance, np.asarray(triangle).ravel().astype(np.int32), np.asarray(closest).reshape(-1, 3)


def _igl() -> ModuleType:
    try:
        import igl
    except ImportError as error:
        raise BackendUnavailable(
            f"The geometry library libigl cannot be loaded ({error}).",
            Where("installation"),
            "Install it with 'pip install libigl', or reinstall the extension for this Blender.",
        ) from error
    backend: ModuleType = igl
    return backend

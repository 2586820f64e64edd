"""Other things in a scan: loose pieces that stand off the skin of the face, as a hand or a lamp does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...errors import Remark, Where, first_point
from ...mesh import Floats, TriMesh
from ..repair.edge_graph import twice_areas
from .pose import Pose

INSIDE_MM = (0.0, 55.0, -25.0)
"""A point inside a head of usual size, approximate face frame: where the chart of the skin has its centre."""

AHEAD_MM = 10.0
"""A piece so far off the skin is none of it: layers of a moved face lie 1 to 5 mm apart."""

HIDING_SHARE = 0.2
"""A piece is another thing when so much of it hides skin; of the face, only the nose hides a little."""

_REACH_MM, _FACE_MM = 175.0, 45.0  # what can hide the mask region, and where nose and mouth are
_SAME_WAY_RAD = 0.08  # points so near in direction lie behind one another: 6 mm on the skin
_MOST_POINTS = 60_000


def loose_pieces_marked(pose: Pose, mesh_mm: TriMesh) -> Pose:
    """The pose with the triangles of other things marked and said, so that `outward` leaves them out.

    Only pieces that share no vertex with the piece of the nose and hide its skin are other things;
    holes, islands of skin and double layers are left for later steps.

    Parameters
    ----------
    pose : of this scan.
    mesh_mm : the scan, mm, corners merged.
    """
    count, label = _pieces(mesh_mm)
    if count == 1:
        return pose
    q = (mesh_mm.vertices @ pose.scan_to_face[:3, :3].T + pose.scan_to_face[:3, 3]) / pose.size
    middle = mesh_mm.faces[(np.linalg.norm(q, axis=1) < _FACE_MM)[mesh_mm.faces].all(axis=1)]
    area = twice_areas(TriMesh(mesh_mm.vertices, middle))
    # By area and not by number: a thing may have more triangles than the face.
    face = np.bincount(label[middle[:, 0]], area, minlength=count)
    other = [int(piece) for piece in _hiding(q, label, int(np.argmax(face)))]
    if not other:
        return pose
    apart = np.isin(label, other)[mesh_mm.faces[:, 0]]
    text = (
        f"Loose pieces stand off the skin and hide it ({len(other)}, {int(apart.sum())} triangles); they "
        "were taken for other things and left out. Look whether the skin behind them was scanned."
    )
    there = first_point(mesh_mm.vertices[label == other[0]].mean(axis=0)[None].tolist())
    remark = Remark("warning", text, Where("scan", there, "scan"))
    return replace(pose, apart=apart, remarks=(*pose.remarks, remark))


def _pieces(mesh: TriMesh) -> tuple[int, NDArray[np.int32]]:
    """Number of connected pieces and the piece of every vertex (n,); loose vertices are pieces too."""
    one, two = mesh.faces[:, :2].T.ravel(), mesh.faces[:, 1:].T.ravel()
    size = (len(mesh.vertices), len(mesh.vertices))
    edges = coo_matrix((np.ones(len(one), dtype=np.int8), (one, two)), shape=size)
    count, label = connected_components(edges.tocsr(), directed=False)
    return int(count), label


def _hiding(q: Floats, label: NDArray[np.int32], face: int) -> NDArray[np.int64]:
    """Pieces that hide the skin of the piece ``face``; q (n, 3) on a face of usual size."""
    offset = q - np.array(INSIDE_MM)
    radius = np.linalg.norm(offset, axis=1)
    near = np.flatnonzero((radius > 1.0) & (radius < _REACH_MM))
    skin, loose = near[label[near] == face], near[label[near] != face]
    skin, loose = (rows[:: max(1, len(rows) // _MOST_POINTS)] for rows in (skin, loose))
    if not len(skin) or not len(loose):
        return np.empty(0, dtype=np.int64)
    # The outermost of a few neighbours: a nose or a mouth has an inside, which nothing stands before.
    tree = cKDTree(offset[skin] / radius[skin, None])
    way = tree.query(
        offset[loose] / radius[loose, None], k=min(6, len(skin)), distance_upper_bound=_SAME_WAY_RAD
    )
    behind = np.append(radius[skin], -np.inf)[way[1].reshape(len(loose), -1)].max(axis=1)
    ahead = np.isfinite(behind) & (radius[loose] > behind + AHEAD_MM)
    pieces = label[loose]
    share = np.bincount(pieces, ahead) / np.maximum(np.bincount(pieces), 1)
    return np.flatnonzero(share > HIDING_SHARE)

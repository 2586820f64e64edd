"""Holes in the skin image: filled smoothly where they are enclosed and small, and marked as guessed skin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve

from ..mesh import Bools, Floats


def enclosed_holes(known: Bools, reach_px: int) -> Bools:
    """Pixels of holes that known skin encloses, after bridging border gaps up to twice ``reach_px``.

    Parameters
    ----------
    known : (h, w) where skin was measured.
    reach_px : how far the known region is grown before asking what it encloses.
    """
    square = np.ones((3, 3), dtype=bool)
    padded = np.pad(known, reach_px + 1)
    grown = ndimage.binary_dilation(padded, square, iterations=reach_px)
    solid = ndimage.binary_fill_holes(grown)
    closed = ndimage.binary_erosion(solid, square, iterations=reach_px)
    inner = closed[reach_px + 1 : -reach_px - 1, reach_px + 1 : -reach_px - 1]
    return np.asarray(inner & ~known)


def fill_smoothly(radii: Floats, holes: Bools) -> Floats:
    """Radii with the holes filled by the surface of least bending that meets the skin round them.

    Parameters
    ----------
    radii : (h, w) mm, NaN where unknown.
    holes : (h, w) pixels to fill.

    Returns
    -------
    (h, w) mm. The discrete biharmonic equation is solved in the holes with the known pixels fixed, which
    continues position and slope; a small harmonic share keeps large holes from overshooting.
    """
    if not holes.any():
        return radii
    filled = radii.copy()
    labels, count = ndimage.label(ndimage.binary_dilation(holes, np.ones((3, 3), dtype=bool), iterations=3))
    for number, box in enumerate(ndimage.find_objects(labels, count), start=1):
        window = tuple(slice(max(s.start - 3, 0), s.stop + 3) for s in box)
        inside = holes[window] & (labels[window] == number)
        filled[window] = _fill_window(filled[window], inside)
    return filled


def _fill_window(radii: Floats, holes: Bools) -> Floats:
    """Solve one window; pixels that are neither known nor holes take no part."""
    taking_part = np.isfinite(radii) | holes
    index = np.where(taking_part, np.cumsum(taking_part).reshape(taking_part.shape) - 1, -1)
    laplacian = _laplacian(index)
    energy = laplacian.T @ laplacian + 1e-4 * sparse.identity(laplacian.shape[0]) @ (-laplacian)
    unknown = index[holes]
    fixed = index[taking_part & ~holes]
    if len(fixed) == 0:
        return radii
    values = radii[taking_part]
    right = -(energy[unknown][:, fixed] @ values[fixed])
    out = radii.copy()
    out[holes] = spsolve(energy[unknown][:, unknown].tocsc(), right)
    return out


def _laplacian(index: NDArray[np.int64]) -> sparse.csr_matrix:
    """Graph Laplacian (negative semidefinite) of the pixels with index >= 0, four neighbours."""
    pairs = []
    for axis in (0, 1):
        first = index[:-1] if axis == 0 else index[:, :-1]
        second = index[1:] if axis == 0 else index[:, 1:]
        both = (first >= 0) & (second >= 0)
        pairs.append(np.stack([first[both], second[both]], axis=1))
    edge = np.vstack(pairs)
    size = int(index.max()) + 1
    ones = np.ones(len(edge))
    adjacency = sparse.coo_matrix((ones, (edge[:, 0], edge[:, 1])), shape=(size, size))
    adjacency = (adjacency + adjacency.T).tocsr()
    degree = np.asarray(adjacency.sum(axis=1)).ravel()
    return (adjacency - sparse.diags(degree)).tocsr()

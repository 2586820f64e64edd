"""Noise of the scan: how much there is, and a smoothing with a hard bound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import ndimage, sparse

from ..mesh import Bools, Floats, TriMesh

_TO_SIGMA = 1.4826  # median absolute deviation of a normal distribution to its standard deviation


@dataclass(frozen=True, eq=False)
class Smoothed:
    """A cleaned image of radii.

    Attributes
    ----------
    radii : (h, w) mm.
    moved_mm : (h, w) how far each pixel was moved.
    bound_mm : the hard bound on the movement.
    """

    radii: Floats
    moved_mm: Floats
    bound_mm: float


def quadratic_fit(radii: Floats, known: Bools, reach_px: int) -> Floats:
    """Local quadratic fit of the skin image (Savitzky and Golay 1964), NaN where unknown.

    Parameters
    ----------
    radii : (h, w) mm.
    known : (h, w) pixels that may be used.
    reach_px : half side of the square window.

    Unknown pixels are given their neighbourhood mean first, so that borders stay defined.
    """
    line = np.arange(-reach_px, reach_px + 1, dtype=np.float64)
    # Smoothing weights of a full quadratic in two variables separate into this kernel.
    y, x = np.meshgrid(line, line, indexing="ij")
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    kernel = np.linalg.pinv(basis)[0].reshape(x.shape)
    return np.where(known, ndimage.convolve(nearest_filled(radii, known), kernel, mode="nearest"), np.nan)


def nearest_filled(radii: Floats, known: Bools) -> Floats:
    """The image with every unknown pixel as its nearest known one (h, w), mm; zeros where none is known."""
    if not known.any():
        return np.zeros_like(radii)
    nearest = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(np.where(known, radii, 0.0)[tuple(nearest)])


def vertex_noise(mesh: TriMesh) -> Floats:
    """White noise (n,) in mm seen at each vertex, scaled so that its deviation is that of the noise.

    The umbrella Laplacian along the normal is taken twice, so that slope and curvature of the skin cancel;
    on the regular six-neighbour lattice white noise of deviation s gives 1.359 s (sum of squared weights
    1.847), which is divided out.
    """
    neighbours = _neighbour_mean(mesh)
    offset = np.einsum("ij,ij->i", mesh.vertices - neighbours(mesh.vertices), mesh.vertex_normals)
    return np.asarray((offset - neighbours(offset[:, None])[:, 0]) / 1.359)


def _neighbour_mean(mesh: TriMesh) -> Callable[[Floats], Floats]:
    """A function that averages vertex values (n, k) over the neighbours of each vertex."""
    count = len(mesh.vertices)
    first = mesh.faces[:, [0, 1, 2]].ravel()
    second = mesh.faces[:, [1, 2, 0]].ravel()
    ones = np.ones(2 * len(first))
    rows, columns = np.concatenate([first, second]), np.concatenate([second, first])
    adjacency = sparse.csr_matrix((ones, (rows, columns)), shape=(count, count))
    degree = np.maximum(np.asarray(adjacency.sum(axis=1)), 1.0)

    def mean(values: Floats) -> Floats:
        """Mean of the values of the neighbours."""
        return np.asarray((adjacency @ values) / degree)

    return mean


def robust_sigma(values: Floats) -> float:
    """Standard deviation of the bulk of some values, mm, blind to outliers; zero for none."""
    finite = values[np.isfinite(values)]
    if len(finite) == 0:
        return 0.0
    return float(_TO_SIGMA * np.median(np.abs(finite - np.median(finite))))


def smooth_bounded(
    radii: Floats, known: Bools, sigma_mm: float, bound_mm: float, pitch_mm: float
) -> Smoothed:
    """Smooth by a local quadratic, no pixel by more than the bound.

    Parameters
    ----------
    radii, known : (h, w) the skin image in mm and where it is measured or filled.
    sigma_mm : noise of the scan; sets the window, so that a clean scan is left alone.
    bound_mm : hard bound on the movement of ordinary pixels.
    pitch_mm : size of a pixel on the skin.
    """
    if bound_mm <= 0:
        return Smoothed(radii, np.zeros_like(radii), 0.0)
    start = nearest_filled(radii, known)
    reach = max(int(round((1.5 + 8.0 * sigma_mm) / pitch_mm)), 2)
    fitted = np.nan_to_num(quadratic_fit(start, known, reach))
    moved = np.clip(fitted - start, -bound_mm, bound_mm) * known
    return Smoothed(np.where(known, start + moved, np.nan), moved, bound_mm)

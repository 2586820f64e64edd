"""Scale from a flat rectangle of known size that lies in the scan: a card, a box, a strip of tape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import ConvexHull, QhullError

from ...errors import ImplausibleSize, Remark, Where
from ...mesh import Floats, TriMesh
from .scale import Scale

AGREEMENT = 0.005
"""Both sides must give the same scale within this share (docs/standards section 8, common practice)."""

LEAST_POINTS = 600
"""A patch of few large triangles is sampled at so many points, 25 for each of the strips below."""

STRIPS = 24
"""Strips across each side in which the border is sought; the outer sixths are left out for round corners."""


@dataclass(frozen=True)
class FlatReference:
    """A rectangle of known size: its name and its sides, the longer first, mm."""

    name: str
    long_mm: float
    short_mm: float


CARD = FlatReference("card (ISO/IEC 7810 ID-1)", 85.60, 53.98)
"""Sides from docs/standards section 8, verified there by a secondary page."""


@dataclass(frozen=True, eq=False)
class ReferenceFit:
    """What the rectangle in the scan says.

    Attributes
    ----------
    scale : the scale with its remarks.
    long_units, short_units : measured sides in file units.
    distortion : scale of the long side over scale of the short side, less 1.
    uncertainty : standard error of the distortion.
    flatness_mm : root mean square distance of the patch from its plane.
    corners : (4, 3) of the rectangle, scan coordinates, file units.
    """

    scale: Scale
    long_units: float
    short_units: float
    distortion: float
    uncertainty: float
    flatness_mm: float
    corners: Floats


def patch_points(mesh: TriMesh, faces: ArrayLike) -> Floats:
    """Points of a marked patch (n, 3): corners and edge midpoints of its triangles, finer on few.

    The face of a box may be two triangles; their lattice has points all along the borders.

    Raises
    ------
    ImplausibleSize : no triangles, or indices that do not exist.
    """
    chosen = np.unique(np.asarray(faces, dtype=np.int64))
    if len(chosen) == 0 or chosen[0] < 0 or chosen[-1] >= len(mesh.faces):
        raise _unusable("The marked patch has no triangles of this scan.", CARD)
    steps = 2
    while len(chosen) * (steps + 1) * (steps + 2) // 2 < LEAST_POINTS:
        steps += 2
    a, b = np.meshgrid(np.arange(steps + 1), np.arange(steps + 1), indexing="ij")
    inside = a + b <= steps
    share = np.stack([a, b, steps - a - b], axis=-1)[inside] / steps
    return np.asarray((share @ mesh.vertices[mesh.faces[chosen]]).reshape(-1, 3))


def fit_reference(points: ArrayLike, reference: FlatReference = CARD) -> ReferenceFit:
    """Fit plane and rectangle to the marked patch of a flat object and take the scale from both sides.

    Parameters
    ----------
    points : (n, 3) scan coordinates, file units, spread over the whole face of the object.
    reference : the true size.

    Raises
    ------
    ImplausibleSize : too few points, no flat patch, or sides whose scales differ by more than 0.5 % and more
        than the noise of the patch explains: the scan is distorted or the patch is marked badly.
    """
    p = np.asarray(points, dtype=np.float64)
    if p.ndim != 2 or p.shape[1:] != (3,) or len(p) < 60 or not np.isfinite(p).all():
        raise _unusable(f"The marked patch has {len(p)} usable points; at least 60 are needed.", reference)
    centre, axes, off = _plane(p)
    on = np.abs(off) <= 4.0 * max(1.4826 * float(np.median(np.abs(off))), 1e-12)
    flat = (p[on] - centre) @ axes[:2].T
    angle = _rectangle_angle(flat, reference)
    sides, errors, middle = _sides(flat @ _turn(angle).T)
    order = np.argsort(-sides)
    long_units, short_units = (float(s) for s in sides[order])
    factors = np.array([reference.long_mm / long_units, reference.short_mm / short_units])
    relative = np.sort(errors / sides)
    distortion = float(factors[0] / factors[1] - 1.0)
    uncertainty = float(np.hypot(*relative))
    factor = float(factors.mean())
    flatness = float(np.sqrt(np.mean(off[on] ** 2))) * factor
    remarks = _judge(distortion, uncertainty, flatness, factors, reference)
    half = 0.5 * sides * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    corners = (half + middle) @ _turn(angle) @ axes[:2] + centre
    scale = Scale(
        factor, "", "reference object", float(np.clip(1.0 - 40.0 * abs(distortion), 0.1, 1.0)), remarks
    )
    return ReferenceFit(scale, long_units, short_units, distortion, uncertainty, flatness, corners)


def _plane(points: Floats) -> tuple[Floats, Floats, Floats]:
    """Robust plane: centre (3,), axes (3, 3) with the normal last, and distances (n,)."""
    weight = np.ones(len(points))
    for _ in range(12):
        centre = np.average(points, axis=0, weights=weight)
        _, _, axes = np.linalg.svd((points - centre) * np.sqrt(weight)[:, None], full_matrices=False)
        off = (points - centre) @ axes[2]
        limit = max(2.0 * 1.4826 * float(np.median(np.abs(off))), 1e-12)
        weight = 1.0 / (1.0 + (off / limit) ** 2) ** 2
    return centre, axes, off


def _turn(angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s], [-s, c]])


def _rectangle_angle(flat: Floats, reference: FlatReference) -> float:
    """Angle of the rectangle: least area over the edges of the hull, then straight lines on the borders."""
    try:
        hull = flat[ConvexHull(flat).vertices]
    except QhullError as error:
        raise _unusable("The marked points lie on a line.", reference) from error
    edges = np.diff(np.vstack([hull, hull[:1]]), axis=0)
    angles = np.arctan2(edges[:, 1], edges[:, 0])
    areas = [float(np.prod(np.ptp(hull @ _turn(a).T, axis=0))) for a in angles]
    angle = float(angles[int(np.argmin(areas))])
    for _ in range(4):
        turned = flat @ _turn(angle).T
        slopes = [_border(turned, axis, sign) for axis in (0, 1) for sign in (1, -1)]
        # A border along y that leans by s turns the rectangle the other way than one along x.
        lean = [(-s if axis == 0 else s, n) for (s, _, _, n), axis in zip(slopes, (0, 0, 1, 1), strict=True)]
        angle += float(np.average([s for s, _ in lean], weights=[n for _, n in lean]))
    return angle


def _border(turned: Floats, axis: int, sign: int) -> tuple[float, float, float, float]:
    """Straight line on one border: slope, offset at the middle, its standard error, and length.

    The outermost point of each strip is taken, and the line through these leaves out what does not fit, so
    that neither single spikes nor round corners move the border.
    """
    along, across = turned[:, 1 - axis], sign * turned[:, axis]
    low, high = float(along.min()), float(along.max())
    margin = (high - low) / 6.0
    strip = np.floor((along - low - margin) / (high - low - 2 * margin) * STRIPS).astype(np.int64)
    place, edge = [], []
    for index in range(STRIPS):
        inside = strip == index
        if inside.sum() >= 4:
            place.append(float(along[inside].mean()))
            edge.append(float(np.sort(across[inside])[-1]))
    if len(place) < 6:
        return 0.0, float(across.max()), float("inf"), 1e-9
    x, y = np.array(place), np.array(edge)
    weight = np.ones(len(x))
    for _ in range(10):
        slope, offset = np.polyfit(x - x.mean(), y, 1, w=np.sqrt(weight))
        miss = y - (slope * (x - x.mean()) + offset)
        limit = max(2.0 * 1.4826 * float(np.median(np.abs(miss))), 1e-9 * (high - low))
        weight = 1.0 / (1.0 + (miss / limit) ** 2) ** 2
    error = float(np.sqrt(np.average(miss**2, weights=weight) / weight.sum()))
    middle = float(offset + slope * (0.5 * (low + high) - x.mean()))
    return float(slope * sign), middle, error, high - low


def _sides(turned: Floats) -> tuple[Floats, Floats, Floats]:
    """Width along both axes (2,), standard errors (2,), and the middle (2,) of the rectangle."""
    sides, errors, middle = [], [], []
    for axis in (0, 1):
        _, high, error_high, _ = _border(turned, axis, 1)
        _, low, error_low, _ = _border(turned, axis, -1)
        sides.append(high + low)
        errors.append(np.hypot(error_high, error_low))
        middle.append(0.5 * (high - low))
    return np.array(sides), np.array(errors), np.array(middle)


def _judge(
    distortion: float, uncertainty: float, flatness: float, factors: Floats, reference: FlatReference
) -> tuple[Remark, ...]:
    """Warnings about the fit; refusal where the two sides disagree beyond the noise."""
    where = Where("reference object", key=reference.name)
    text = (
        f"The long side of the {reference.name} gives {factors[0]:.6g} mm per unit, the short side "
        f"{factors[1]:.6g}: they differ by {100 * abs(distortion):.2f} %"
    )
    if not np.isfinite(uncertainty) or abs(distortion) > AGREEMENT + 2.0 * uncertainty:
        raise _unusable(text + ", more than 0.5 % and the noise of the patch.", reference)
    remarks = []
    if abs(distortion) > AGREEMENT:
        remarks.append(Remark("warning", text + "; the scan may be distorted.", where))
    if flatness > 1.0:
        bent = f"The {reference.name} is not flat in the scan ({flatness:.1f} mm); the scale may be off."
        remarks.append(Remark("warning", bent, where))
    return tuple(remarks)


def _unusable(what: str, reference: FlatReference) -> ImplausibleSize:
    return ImplausibleSize(
        what,
        Where("reference object", key=reference.name),
        "Mark the whole flat face of the object and nothing else, or give a known length instead.",
    )

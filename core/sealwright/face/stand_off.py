"""How far the body stands off the skin: one distance or a smooth field of them; and the skin moved by it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ..mesh import Bools, Floats
from ..solids.distance import MeshDistance
from .chart import RadialChart
from .clearance import grown_by_ball, grown_by_balls
from .denoise import nearest_filled
from .surface import FaceSurface

_ROUNDS = 5  # each at least halves the error; two reach 0.01 mm on smooth skin
_SETTLED_MM = 1e-9  # after a step so small the next one is rounding
_NEAR_MM = 0.2  # at less than this a first guess may lie on the other side of the skin
_DIP_MM = 0.1  # what growing by balls on pixels may be off by, at most: no rounding yet
_EASED = 0.45  # of what a crease leaves: about half of it is then left, and the rest taken off round it
_ROUND = 0.6  # of the distance: flanks so far from the bottom hold the grown surface up over it
_MOST_EASED = 0.1  # of the stand-off: a seated cushion yields by as much again as it is seated by
_FEATHER_MM = 2.0  # smoothing length of a grown surface, which has no sharp place left
_LEAST_SLANT = 0.3  # a step along the ray is at most this much longer than the distance it should make up


@dataclass(frozen=True, eq=False)
class StandOff:
    """Distance that the contact surface keeps from the skin, mm; negative lies below it.

    Attributes
    ----------
    base_mm : everywhere.
    shaped_mm : (h, w) added to it over the chart's pixels; None for an even stand-off.
    rounded_mm : (h, w) how far, along the rays, the contact surface lies above that distance where the
        distance itself would have creases, or below it (negative) round a tight crease of the skin; None
        where they are left. It is no part of the wanted distance.
    """

    base_mm: float = 0.0
    shaped_mm: Floats | None = None
    rounded_mm: Floats | None = None

    @property
    def is_even(self) -> bool:
        """Whether it is the same everywhere."""
        return self.shaped_mm is None

    @property
    def least_mm(self) -> float:
        """Smallest distance anywhere."""
        return self.base_mm + (0.0 if self.shaped_mm is None else float(self.shaped_mm.min()))

    def at(self, chart: RadialChart, pq: Floats) -> Floats:
        """Distances (...) in mm at chart positions (..., 2) in radians, bilinear between pixels."""
        return self.base_mm + sampled(self.shaped_mm, chart, pq)

    def shaped_at(self, chart: RadialChart, pq: Floats) -> Floats:
        """What is shaped of them (...), mm, at chart positions (..., 2) in radians."""
        return sampled(self.shaped_mm, chart, pq)

    def rounding_at(self, chart: RadialChart, pq: Floats) -> Floats:
        """How far (...) its creases are rounded, mm along the rays, at chart positions (..., 2)."""
        return sampled(self.rounded_mm, chart, pq)

    def at_points(self, chart: RadialChart, points: Floats) -> Floats:
        """Distances (...) in mm at points (..., 3) in the face frame, along their rays."""
        return self.at(chart, chart.place_of(points)[0])


def at_distance(start: Floats, centre: Floats, skin: MeshDistance, distance_mm: float | Floats) -> Floats:
    """Points moved along their rays to a distance from the skin.

    Parameters
    ----------
    start : (n, 3) first guess, mm.
    centre : (3,) where the rays begin.
    skin : the sheet that distances are measured to.
    distance_mm : one number or (n,); positive outside, negative inside.

    Returns
    -------
    (n, 3) mm. Newton's rule along the ray: the slope of the signed distance is the cosine between the ray and
    the way from the nearest skin.
    """
    wanted = np.broadcast_to(np.asarray(distance_mm, dtype=np.float64), len(start))
    side, near = np.sign(wanted), np.abs(wanted) < _NEAR_MM
    ray = start - centre
    radius = np.linalg.norm(ray, axis=1)
    ray = ray / radius[:, None]
    left = np.arange(len(start))  # those that still move
    for _ in range(_ROUNDS):
        points = centre + ray[left] * radius[left, None]
        distance, _, nearest = skin.closest(points)
        away = (points - nearest) / np.maximum(distance, 1e-9)[:, None]
        rising = (away * ray[left]).sum(axis=1)
        # outside or inside, as far as that can be doubted
        here = np.where(near[left], np.sign(rising), side[left])
        step = (here * distance - wanted[left]) / np.maximum(here * rising, _LEAST_SLANT)
        radius[left] -= step
        left = left[np.abs(step) > _SETTLED_MM]
    return np.asarray(centre + ray * radius[:, None])


def sampled(image: Floats | None, chart: RadialChart, pq: Floats) -> Floats:
    """Values (...) of an image (h, w) at chart positions (..., 2), bilinear; zeros without one."""
    if image is None:
        return np.zeros(pq.shape[:-1])
    pixel = chart.pixels_of(pq)
    flat = ndimage.map_coordinates(image, pixel.reshape(-1, 2).T, order=1, mode="nearest")
    return np.asarray(flat.reshape(pixel.shape[:-1]))


def grown_surface(
    face: FaceSurface, stand_off: StandOff, crease_mm: float, eased: Bools | None = None
) -> tuple[FaceSurface, StandOff]:
    """The skin grown by a stand-off as a surface of its own, with creases rounded, at twice the pixel size.

    Parameters
    ----------
    face : the skin.
    stand_off : its base is grown as a distance; what is shaped is added along the rays.
    crease_mm : least radius of its creases: that of a ball rolled over it from outside.
    eased : (h, w) skin whose creases the surface is to follow: over the bottom of one that is too tight it
        lies further away than asked, and comes nearer by about half of that, over the flanks too; None for
        none.

    Returns
    -------
    The surface, and the stand-off with its rounding.
    """
    coarse, base = face.thinned(2), stand_off.base_mm
    plain = even = grown_by_ball(coarse.chart, coarse.radii, base)
    over = base + crease_mm
    if eased is not None and (ease := _easing(coarse, plain, base, eased)).any():
        plain = grown_by_balls(coarse.chart, coarse.radii, base - ease, 1)
        rolled = grown_by_balls(coarse.chart, coarse.radii, over - ease, 1)
    else:
        rolled = grown_by_ball(coarse.chart, coarse.radii, over)
    radii = np.maximum(grown_by_ball(coarse.chart, rolled, -crease_mm), plain)
    everywhere = face.chart.place_of(face.points)[0]
    rounded = np.maximum(radii - plain - _DIP_MM, 0.0) + (plain - even)
    if stand_off.shaped_mm is not None:
        radii = radii + sampled(stand_off.shaped_mm, face.chart, coarse.chart.place_of(coarse.points)[0])
    grown = replace(coarse, radii=np.where(coarse.known, radii, np.nan), feather_mm=_FEATHER_MM)
    return grown, replace(stand_off, rounded_mm=sampled(rounded, coarse.chart, everywhere))


def _easing(coarse: FaceSurface, plain: Floats, base_mm: float, where: Bools) -> Floats:
    """How much less (h, w) than the base each pixel of skin is grown, mm, so that creases are followed.

    A ball of the base's size that rolls over the skin does not reach the bottom of a crease: what it leaves
    there is how much further the grown surface is from that bottom than asked.
    """
    chart = coarse.chart
    left = grown_by_ball(chart, plain, -base_mm) - nearest_filled(coarse.radii, coarse.known)
    down, right = np.gradient(plain)
    slant = 1.0 / np.sqrt(1.0 + (down**2 + right**2) / (chart.pitch_rad * plain) ** 2)
    taken = _EASED * np.maximum(left * slant - _DIP_MM, 0.0) * _thinned_image(where, coarse)
    reach = max(int(round(_ROUND * base_mm / coarse.pitch_mm)), 1)
    spread = ndimage.grey_dilation(np.minimum(taken, _MOST_EASED * base_mm), 2 * reach + 1)
    return np.asarray(ndimage.gaussian_filter(spread, 0.5 * reach))


def _thinned_image(image: Bools, coarse: FaceSurface) -> Bools:
    """Every second pixel of an image (h, w), as `FaceSurface.thinned` takes them."""
    first = (image.shape[0] - 1) // 2 - 2 * coarse.chart.half
    return image[first::2, first::2][: coarse.chart.side, : coarse.chart.side]

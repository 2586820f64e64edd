"""The skin round the mouth as a lattice: rays from the mouth by places along them, and what is against each.

A place can carry the seal line where the band has trusted skin on both sides, and where lips, nostrils and
eyes are far enough away.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import ndimage
from scipy.spatial import ConvexHull

from ..face.surface import FaceSurface
from ..limits import line_distance_mm
from ..mesh import Bools, Floats
from .band_room import Reach, steepness
from .off_creases import STEEP

RAYS = 96
_NEAREST_RAD, _FURTHEST_RAD = 0.12, 1.25  # of a line from the middle of the mouth, on the chart
_STEP_RAD = 0.01  # 0.75 mm on skin 75 mm from the chart's centre
_EYE_MM = 6.0  # from the line between the corners of an eye to the border of its lids
_LIP_SHARE = 0.25  # of the way from the lips to menton: the border of the lower lip
_UNDER_SELLION_MM = 3.0
_DEEP_MM = 1.5
_TIGHT_MM = 9.0  # radius of skin that a band and its thickness cannot follow


@dataclass(frozen=True, eq=False)
class SkinLattice:
    """Rays (t) from the middle of the mouth by places along them (j), from the mouth outwards.

    Attributes
    ----------
    face : the face surface.
    centre : (2,) chart place of the middle.
    landmarks : name -> (3,) mm in the face frame.
    reach : of the band.
    """

    face: FaceSurface
    centre: Floats
    landmarks: Mapping[str, Floats]
    reach: Reach

    @cached_property
    def angles(self) -> Floats:
        """Of the rays (t,), from up to the wearer's left."""
        return np.asarray(2.0 * np.pi * np.arange(RAYS) / RAYS)

    @cached_property
    def ways(self) -> Floats:
        """Chart distances (j,) of the places from the middle, radians."""
        return np.arange(_NEAREST_RAD, _FURTHEST_RAD, _STEP_RAD)

    @cached_property
    def pq(self) -> Floats:
        """Chart places (t, j, 2)."""
        ray = np.stack([np.sin(self.angles), np.cos(self.angles)], axis=-1)
        return np.asarray(self.centre + ray[:, None, :] * self.ways[None, :, None])

    @cached_property
    def points(self) -> Floats:
        """Places (t, j, 3) on the smoothed skin, mm; where there is none, the nearest is continued."""
        return self.face.skin_at(self.pq, smooth=True)

    @cached_property
    def along(self) -> Floats:
        """Length (t, j) over the skin from the first place of each ray, mm."""
        steps = np.linalg.norm(np.diff(self.points, axis=1), axis=-1)
        return np.concatenate([np.zeros((RAYS, 1)), np.cumsum(steps, axis=1)], axis=1)

    def looked_up(self, image: Bools) -> Bools:
        """Values (t, j) of an image (h, w) of the chart; False off the chart."""
        return self.face.looked_up(image, self.pq)

    def room(self, skin: Bools) -> Floats:
        """Unbroken skin (t, j, 2) in mm outwards and towards the mouth; nothing where there is no skin."""
        gap = ~self.looked_up(skin)
        index = np.arange(gap.shape[1])
        last = np.maximum.accumulate(np.where(gap, index, -1), axis=1)
        following = np.where(gap, index, gap.shape[1])[:, ::-1]
        following = np.minimum.accumulate(following, axis=1)[:, ::-1]
        ends = np.concatenate([np.zeros((RAYS, 1)), self.along, self.along[:, -1:] + 1.0], axis=1)
        outward = np.take_along_axis(ends, following + 1, axis=1) - self.along
        inward = self.along - np.take_along_axis(ends, last + 1, axis=1)
        return np.where(gap[..., None], 0.0, np.stack([outward, inward], axis=-1))

    @cached_property
    def hard(self) -> Floats:
        """Share (t, j) of the band's width at each place on skin that a stiff band cannot follow.

        Such skin is too steep as seen from the middle of the head, bends tighter than `_TIGHT_MM`, or lies
        far off the smoothed skin, as in the crease behind the wing of the nose.
        """
        steep = self.looked_up(steepness(self.face) > STEEP)
        off = np.abs(self.face.radius_at(self.pq) - self.face.radius_at(self.pq, smooth=True)) > _DEEP_MM
        bad = (steep | off | (self._bending > 1.0 / _TIGHT_MM)).astype(np.float64)
        whole = self.reach.both.sum()
        rows = max(int(round(whole / max(float(np.median(np.diff(self.along, axis=1))), 0.1))), 1)
        shift = int(round(rows * (self.reach.outer_mm / whole - 0.5)))
        return np.asarray(ndimage.uniform_filter1d(bad, rows, axis=1, mode="nearest", origin=-shift))

    @cached_property
    def _bending(self) -> Floats:
        """Bending (t, j) of the smoothed skin along the rays and across them, 1 over mm."""
        normal, point = self.face.normal_at(self.pq), self.points
        along = np.gradient(normal, axis=1), np.gradient(point, axis=1)
        across = (np.roll(image, -1, axis=0) - np.roll(image, 1, axis=0) for image in (normal, point))
        both = [
            np.linalg.norm(turn, axis=-1) / np.maximum(np.linalg.norm(way, axis=-1), 1e-9)
            for turn, way in (along, tuple(across))
        ]
        return np.asarray(np.maximum(*both))

    def near_feature(self, weave_mm: float) -> Bools:
        """Places (t, j) too near to lips, nostrils or eyes.

        Parameters
        ----------
        weave_mm : by so much the drawn line may come nearer than its place on the lattice.
        """
        found = self._within_features | self._at_eyes
        for name, point in self.landmarks.items():
            least = line_distance_mm(name)
            if least is not None:
                found = found | (np.linalg.norm(self.points - point, axis=-1) < least + weave_mm)
        return np.asarray(found)

    def clear_of_features(self, points: Floats) -> Floats:
        """How far (..., 2) a band may reach from points (..., 3), mm: out to the lids, in to lip and nose."""
        mark = self.landmarks
        out = np.full(points.shape[:-1], np.inf)
        into = np.linalg.norm(points - self._lip, axis=-1)
        for side in ("left", "right"):
            inner, outer = (mark.get(f"{name}_{side}") for name in ("endocanthion", "exocanthion"))
            if inner is not None and outer is not None:
                out = np.minimum(out, _from_segment(points, inner, outer) - _EYE_MM)
            wing = _from_segment(points, mark[f"alare_{side}"], mark["pronasale"])
            into = np.minimum(into, wing)
        return np.stack([out, into], axis=-1)

    @cached_property
    def _clear(self) -> Floats:
        """The same (t, j, 2) of the places."""
        return self.clear_of_features(self.points)

    @cached_property
    def _lip(self) -> Floats:
        """The border (3,) of the lower lip."""
        mark = self.landmarks
        mouth = 0.5 * (mark["cheilion_left"] + mark["cheilion_right"])
        return np.asarray(mouth + _LIP_SHARE * (mark["menton"] - mouth))

    @cached_property
    def _within_features(self) -> Bools:
        """Places (t, j) among nose tip, wings and lips, or where the band would cover wings or lower lip."""
        mark = self.landmarks
        names = ("pronasale", "subnasale", "alare_left", "alare_right", "cheilion_left", "cheilion_right")
        places, _ = self.face.chart.place_of(np.array([*(mark[name] for name in names), self._lip]))
        hull = ConvexHull(places).equations
        inside = (self.pq @ hull[:, :2].T + hull[:, 2] < 0.0).all(axis=-1)
        return np.asarray(inside | (self._clear[..., 1] < self.reach.inner_mm))

    @cached_property
    def _at_eyes(self) -> Bools:
        """Places (t, j) where the band would reach the lids of an eye, or the line the root of the nose."""
        high = self.points[..., 2] > self.landmarks["sellion"][2] - _UNDER_SELLION_MM
        return np.asarray(high | (self._clear[..., 0] < self.reach.outer_mm))


def _from_segment(points: Floats, start: Floats, end: Floats) -> Floats:
    """Distances (...) in mm of points (..., 3) from a segment."""
    axis = end - start
    share = ((points - start) @ axis / (axis @ axis)).clip(0.0, 1.0)
    return np.asarray(np.linalg.norm(points - start - share[..., None] * axis, axis=-1))


def lattice_round(face: FaceSurface, landmarks: Mapping[str, Floats], reach: Reach) -> SkinLattice:
    """The lattice round the middle between subnasale and the lips.

    Parameters
    ----------
    face : the face surface.
    landmarks : name -> (3,) mm in the face frame; those that the proposal of the line needs.
    reach : of the band.
    """
    mouth = 0.5 * (landmarks["cheilion_left"] + landmarks["cheilion_right"])
    places, _ = face.chart.place_of(np.array([landmarks["subnasale"], mouth]))
    return SkinLattice(face, places.mean(axis=0), landmarks, reach)

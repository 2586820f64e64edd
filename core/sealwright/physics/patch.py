"""The contact band as plain arrays: what the physics needs to know of a design, and nothing else."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import BadNumbers, NotConverged, Where, first_point
from ..mesh import Floats
from ..values import require_range
from .stations import Codes as Codes  # part of what this module gives
from .stations import Loop, loop_through

REGIONS: tuple[str, ...] = ("nose_bridge", "nose_side", "cheek", "mouth_side", "chin", "under_chin")
"""Names of the region codes 0 to 5."""

LARGEST_TENSION_N = 100.0
"""A strap pull above this is a slip of the pen: 50 N is already a strength test (EN 140, from memory)."""


@dataclass(frozen=True, eq=False)
class ContactPatch:
    """The contact band on the skin, in the face frame.

    Attributes
    ----------
    points : (n, 3) mm, on the skin.
    normals : (n, 3) unit, out of the skin (towards the mask).
    areas : (n,) mm2, the share of the band that each point stands for.
    gap_mm : (n,) unloaded distance from skin to mask along the normal; negative is interference.
    station : (n,) index along the closed seal line, every number from 0 to the last at least once.
    across_mm : (n,) signed distance from the seal line; negative is the inner (breathing) side.
    region : (n,) code, see `REGIONS`: names places in words, and stands in for ``mix`` without landmarks.
    mix : (n, t) share of each site of the skin table in the tissue under every point, rows sum to 1
        (`skin_map.site_mix`); None takes the one site that stands for the point's region.

    Build one with `contact_patch_of`, which checks; the constructor trusts its caller.
    """

    points: Floats
    normals: Floats
    areas: Floats
    gap_mm: Floats
    station: Codes
    across_mm: Floats
    region: Codes
    mix: Floats | None = None

    @cached_property
    def station_count(self) -> int:
        """Stations round the loop."""
        return int(self.station.max()) + 1

    @cached_property
    def loop(self) -> Loop:
        """The stations round the seal line, sorted and measured once; see `stations.loop_through`."""
        return loop_through(self.points, self.areas, self.station, self.across_mm)

    @cached_property
    def centre(self) -> Floats:
        """Area-weighted centre (3,), mm: the point about which the pose shift is given."""
        return np.asarray(self.areas @ self.points / self.areas.sum())

    @cached_property
    def reach_mm(self) -> float:
        """Root-mean-square distance of the band from its centre, mm: turns rotations into lengths."""
        square = np.einsum("ij,ij->i", self.points - self.centre, self.points - self.centre)
        return float(np.sqrt(self.areas @ square / self.areas.sum()))

    @cached_property
    def contact_jacobians(self) -> tuple[Floats, Floats]:
        """Contact Jacobians: motion of every point per unit of the mask's twist (three shifts, three turns).

        The turns are measured in millimetres at the reach of the band, so that all six are alike.

        Returns
        -------
        opening : (n, 6), movement along the normal.
        moving : (n, 3, 6), movement in space.
        """
        arm = (self.points - self.centre) / self.reach_mm
        point_jacobian = np.zeros((len(arm), 3, 6))
        point_jacobian[:, 0, 0] = point_jacobian[:, 1, 1] = point_jacobian[:, 2, 2] = 1.0
        # columns of (turn x arm): d/dturn_x = (0, -z, y) and so on round
        point_jacobian[:, 1, 3], point_jacobian[:, 2, 3] = -arm[:, 2], arm[:, 1]
        point_jacobian[:, 0, 4], point_jacobian[:, 2, 4] = arm[:, 2], -arm[:, 0]
        point_jacobian[:, 0, 5], point_jacobian[:, 1, 5] = -arm[:, 1], arm[:, 0]
        return np.hstack([self.normals, np.cross(arm, self.normals)]), point_jacobian


@dataclass(frozen=True, eq=False)
class StrapPull:
    """One strap at its lug, or any other single force on the mask.

    Attributes
    ----------
    point : (3,) mm, where it acts.
    direction : (3,) unit, the way it pulls the mask.
    tension_n : its size, N.
    """

    point: Floats
    direction: Floats
    tension_n: float

    def scaled(self, factor: float) -> StrapPull:
        """The same strap, pulled harder by a factor."""
        return dataclasses.replace(self, tension_n=self.tension_n * factor)


def strap_pull_of(point: ArrayLike, direction: ArrayLike, tension_n: float, key: str = "strap") -> StrapPull:
    """Check and make a strap pull; the direction is made a unit vector.

    Raises
    ------
    BadRecipe : tension out of range.
    BadNumbers : point or direction not three finite numbers, or a direction of no length.
    """
    place, way = np.array(point, dtype=np.float64), np.array(direction, dtype=np.float64)
    if place.shape != (3,) or way.shape != (3,) or not np.isfinite([place, way]).all():
        raise BadNumbers(
            f"The {key} has no three numbers for point and direction.", key, "Give x, y, z in mm."
        )
    length = float(np.linalg.norm(way))
    if length < 1e-9:
        raise BadNumbers(f"The {key} pulls in no direction.", key, "Give a direction that is not zero.")
    tension = require_range(tension_n, 0.0, LARGEST_TENSION_N, "N", f"{key}.tension_n")
    return StrapPull(place, way / length, tension)


def check_pulls(pulls: Sequence[StrapPull]) -> None:
    """Check that there are straps and that their tensions are in range.

    Raises
    ------
    BadRecipe : a tension outside 0 to 100 N.
    NotConverged : no strap at all.
    """
    if len(pulls) == 0:
        raise NotConverged("No strap holds the mask.", Where("straps"), "Give at least one strap.")
    for index, pull in enumerate(pulls):
        require_range(pull.tension_n, 0.0, LARGEST_TENSION_N, "N", f"straps[{index}].tension_n")


def contact_patch_of(
    points: ArrayLike,
    normals: ArrayLike,
    areas: ArrayLike,
    gap_mm: ArrayLike,
    station: ArrayLike,
    across_mm: ArrayLike,
    region: ArrayLike,
    mix: ArrayLike | None = None,
) -> ContactPatch:
    """Check arrays and make a contact patch of them; shapes and units as in `ContactPatch`.

    Raises
    ------
    BadNumbers : see `check_patch`.
    """
    patch = ContactPatch(
        np.ascontiguousarray(points, dtype=np.float64),
        np.ascontiguousarray(normals, dtype=np.float64),
        np.ascontiguousarray(areas, dtype=np.float64),
        np.ascontiguousarray(gap_mm, dtype=np.float64),
        np.ascontiguousarray(station, dtype=np.int64),
        np.ascontiguousarray(across_mm, dtype=np.float64),
        np.ascontiguousarray(region, dtype=np.int64),
        None if mix is None else np.ascontiguousarray(mix, dtype=np.float64),
    )
    check_patch(patch)
    return patch


def check_patch(patch: ContactPatch) -> None:
    """Check shapes and values of a contact patch.

    Raises
    ------
    BadNumbers : wrong shapes, fewer than three points, numbers that are not finite, areas not above zero,
        normals not of unit length, stations with a number missing, or an unknown region code.
    """
    count = len(patch.points)
    flat = (patch.areas, patch.gap_mm, patch.station, patch.across_mm, patch.region)
    if count < 3 or patch.points.shape != (count, 3) or patch.normals.shape != (count, 3):
        raise _bad(
            f"points {patch.points.shape} and normals {patch.normals.shape}", "at least three of (n, 3)"
        )
    if any(values.shape != (count,) for values in flat):
        raise _bad(
            f"arrays of lengths {[len(v) for v in flat]} for {count} points", "one value for each point"
        )
    finite = np.isfinite(np.column_stack([patch.points, patch.normals, patch.areas, patch.gap_mm]))
    _refuse_where(patch, ~finite.all(axis=1) | ~np.isfinite(patch.across_mm), "numbers that are not finite")
    _refuse_where(patch, patch.areas <= 0.0, "areas that are not above zero")
    length = np.linalg.norm(patch.normals, axis=1)
    _refuse_where(patch, np.abs(length - 1.0) > 1e-6, "normals that are not of unit length")
    _refuse_where(patch, (patch.region < 0) | (patch.region >= len(REGIONS)), "unknown region codes")
    _refuse_where(patch, patch.station < 0, "negative station numbers")
    if patch.mix is not None:
        if patch.mix.shape[:1] != (count,):
            raise _bad(f"shares of sites {patch.mix.shape} for {count} points", "one row for each point")
        _refuse_where(
            patch, ~(np.abs(patch.mix.sum(axis=1) - 1.0) < 1e-6), "shares of sites not summing to 1"
        )
    missing = np.flatnonzero(np.bincount(patch.station) == 0)
    if len(missing):
        raise _bad(f"no point at station {missing[0]}", "every station from 0 to the last at least once")


def _bad(found: str, wanted: str) -> BadNumbers:
    return BadNumbers(f"The contact band has {found}.", "contact band", f"Give {wanted}.")


def _refuse_where(patch: ContactPatch, bad: NDArray[np.bool_], what: str) -> None:
    index = np.flatnonzero(bad)
    if len(index) == 0:
        return
    near = first_point(patch.points[index].tolist()) if np.isfinite(patch.points[index[0]]).all() else None
    where = Where("contact band", point=near, indices=tuple(int(i) for i in index[:100]))
    raise BadNumbers(
        f"{len(index)} of {len(bad)} points of the contact band have {what}.", where, "Rebuild the band."
    )

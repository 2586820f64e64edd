"""Thickness of the chamber wall: nearest distances between the two sides of its grid.

The grid is what the solid is made of; bosses, lugs and the joint to the rim are not in it. A nearest distance
is never more than the thickness along the normal, so it errs towards thin.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree

from ..facepiece.clearance_field import RISE
from ..facepiece.shell import Shell, side_mesh
from ..limits import limit
from ..mesh import Bools, Floats, at_any_corner
from ..solids.distance import MeshDistance


@dataclass(frozen=True, kw_only=True)
class WallFacts:
    """Thickness of the plain wall in a few numbers, mm; and the share of it near the wanted thickness."""

    wanted_mm: float
    min_mm: float
    mean_mm: float
    max_mm: float
    within_10_percent_share: float


@dataclass(frozen=True, eq=False, kw_only=True)
class WallCheck:
    """Thickness samples of the chamber wall.

    Attributes
    ----------
    places : (m, 3) on the outer side, mm.
    thickness : (m,) mm.
    wanted_mm : what the recipe asks for.
    plain : (m,) where no fill under the rim thickens the wall.
    """

    places: Floats
    thickness: Floats
    wanted_mm: float
    plain: Bools

    @cached_property
    def facts(self) -> WallFacts:
        """The plain wall in a few numbers."""
        thickness = self.thickness[self.plain]
        share = np.abs(thickness - self.wanted_mm) <= limit("wall_deviation_share").value * self.wanted_mm
        return WallFacts(
            wanted_mm=self.wanted_mm,
            min_mm=float(thickness.min()),
            mean_mm=float(thickness.mean()),
            max_mm=float(thickness.max()),
            within_10_percent_share=float(share.mean()),
        )


def measured_side(shell: Shell) -> Floats:
    """The chamber side (n, k, 3) of the wall proper and a little around, to measure its thickness to."""
    rows = np.flatnonzero(shell.wall)
    return shell.face_side[:, rows[0] - 3 : rows[-1] + 3]


def side_distance(side: Floats) -> MeshDistance:
    """One side (n, k, 3) of the shell, to measure distances to."""
    return MeshDistance(side_mesh(side))


def check_wall(shell: Shell, wanted_mm: float, side: MeshDistance | None = None) -> WallCheck:
    """Thickness of the chamber wall: from points of its outer side to the nearest point of its chamber side.

    Parameters
    ----------
    shell : band and wall; only the rows of the wall proper are measured, outside bosses and lugs.
    wanted_mm : the recipe's wall.
    side : `side_distance` of its `measured_side`; None makes it.
    """
    rows = np.flatnonzero(shell.wall)
    places = shell.outer_side[:, rows].reshape(-1, 3)
    plain = ~shell.filled[:, rows].reshape(-1)
    thickness = (side or side_distance(measured_side(shell))).to(places)
    return WallCheck(places=places, thickness=thickness, wanted_mm=wanted_mm, plain=plain)


def clear_side(shell: Shell) -> Floats:
    """The chamber side (n, k, 3) of the wall, which keeps clear of nose and lips."""
    return shell.face_side[:, np.flatnonzero(shell.wall)[0] - 2 :]


@dataclass(frozen=True, eq=False, kw_only=True)
class ClearanceCheck:
    """Smallest distance in mm of nose and lips from the wall, and the skin point (3,) where it is."""

    nearest_mm: float
    point: Floats


def lacking_clearance(
    points: Floats, band_end: Floats, side: Floats, clearance_mm: float
) -> tuple[Floats, Floats]:
    """Skin points (k, 3) that the wall comes nearer to than the clearance, and by how much (k,) mm.

    For asking on: measured to the wall's grid with points between its corners, not to its triangles.
    Arguments as for `check_clearance`.
    """
    away, _ = cKDTree(band_end).query(points) if len(points) else (np.zeros(0), None)
    points = points[away > RISE * clearance_mm]
    after = np.roll(side, -1, axis=0)
    middles = [0.5 * (side[:, 1:] + side[:, :-1]), 0.5 * (side + after)]
    # Of both diagonals of a square: with one alone, a mirrored wall would be asked for something else.
    middles += [0.5 * (side[:, 1:] + after[:, :-1]), 0.5 * (side[:, :-1] + after[:, 1:])]
    wall = np.concatenate([grid.reshape(-1, 3) for grid in (side, *middles)])
    lacking = clearance_mm - cKDTree(wall).query(points)[0]
    return points[lacking > 0], lacking[lacking > 0]


def check_clearance(points: Floats, band_end: Floats, side: Floats, clearance_mm: float) -> ClearanceCheck:
    """Smallest distance from skin points (m, 3) of nose and lips to the chamber side, and the point.

    ``band_end`` (n, 3) is the inner end of the contact band, ``side`` (n, k, 3) the chamber side of the wall,
    see `clear_side`.

    Beside the contact band the wall must come down to the skin; points within 1.6 times the wanted clearance
    of the band, where the wall is still rising, are left out.
    """
    away, _ = cKDTree(band_end).query(points) if len(points) else (np.zeros(0), None)
    points = points[away > RISE * clearance_mm]
    if len(points) == 0:
        return ClearanceCheck(nearest_mm=float("inf"), point=np.zeros(3))
    # No place in a triangle lies further from all its corners than the longest side over the root of three:
    # only points and corners that much nearer to each other than the nearest seen so far can be the nearest.
    steps = [np.diff(side, axis=1), side - np.roll(side, 1, axis=0)]
    diagonal = sum(float(np.linalg.norm(step, axis=-1).max()) for step in steps)
    mesh = side_mesh(side)
    reach = float(cKDTree(mesh.vertices).query(points[::8])[0].min()) + diagonal / 3.0**0.5
    near = np.isfinite(cKDTree(points).query(mesh.vertices, distance_upper_bound=reach)[0])
    corners = cKDTree(mesh.vertices[near])
    points = points[np.isfinite(corners.query(points, distance_upper_bound=reach)[0])]
    distance = MeshDistance(mesh.submesh(at_any_corner(near, mesh.faces))).to(points)
    worst = int(np.argmin(distance))
    return ClearanceCheck(nearest_mm=float(distance[worst]), point=points[worst])

"""Where the straps are anchored: lug frames on the outer side of the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..hardware.options import LugSettings
from ..mesh import Floats
from ..settings import quantity, section
from .shell import Shell

_SINK_ROOM_MM = (
    2.0  # of the wall's curving away that a deeper root can bridge; the rest moves the lug inwards
)

_ROOT_MM = 1.0  # extra depth of a root, so that no tunnel stays under it; what reaches the chamber is cut off


@dataclass(frozen=True)
class StrapSettings:
    """Strap anchors and their place."""

    upper_share: float = quantity(
        0.27, "1", 0.1, 0.45, "Upper lugs: share of the way round from nose to chin."
    )
    lower_share: float = quantity(
        0.62, "1", 0.5, 0.9, "Lower lugs: share of the way round from nose to chin."
    )
    up_the_wall_mm: float = quantity(
        9.0, "mm", 3.0, 30.0, "From the fillet up the wall to the root of a lug."
    )
    tension_n: float = quantity(4.0, "N", 0.5, 30.0, "Expected pull of one strap end.")
    lug: LugSettings = section(LugSettings, "The lugs.")


@dataclass(frozen=True, eq=False)
class StrapPoint:
    """One anchor.

    Attributes
    ----------
    frame : 4x4 lug frame in the face frame: +Z off the body, +Y the way the strap pulls, origin on the wall.
    pull : (3,) unit direction in which the strap leaves, towards the back of the head.
    fall_mm : how far the wall curves away under the lug's two arms.
    station : index along the seal line.
    """

    frame: Floats
    pull: Floats
    fall_mm: tuple[float, float]
    station: int


def strap_points(shell: Shell, settings: StrapSettings) -> list[StrapPoint]:
    """Anchors of a shell, mirrored left and right, upper pair first.

    Parameters
    ----------
    shell : band and wall.
    settings : places.
    """
    half = len(shell.outer_side) / 2.0
    pairs = settings.lug.count // 2
    shares = np.linspace(settings.upper_share, settings.lower_share, pairs) if pairs > 1 else [0.45]
    points = []
    for share in shares[:pairs]:
        offset = int(round(share * half))
        points += [_point(shell, settings, station) for station in (offset, len(shell.outer_side) - offset)]
    return points


def _point(shell: Shell, settings: StrapSettings, station: int) -> StrapPoint:
    first = int(np.flatnonzero(shell.wall)[0])
    outer = shell.outer_side[station]
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(outer[first:], axis=0), axis=1))])
    row = first + min(int(np.searchsorted(walked, settings.up_the_wall_mm)), len(walked) - 5)
    origin, normal = outer[row], shell.normals[station, row]
    back = outer[row - 1] - outer[row + 1]
    back = back / np.linalg.norm(back)
    off = normal - (normal @ back) * back
    off = off / np.linalg.norm(off)
    frame = np.eye(4)
    frame[:3, :3] = np.stack([np.cross(back, off), back, off], axis=1)
    frame[:3, 3] = origin
    pull = np.array([0.55 * np.sign(origin[0]), 1.0, 0.25 if origin[2] > -20.0 else -0.05])
    half = 0.5 * (settings.lug.strap_width_mm + settings.lug.slot_play_mm + settings.lug.bar_mm)
    fall = (_fall(shell, frame, -half, settings.lug), _fall(shell, frame, half, settings.lug))
    return StrapPoint(frame, pull / np.linalg.norm(pull), fall, station)


def _fall(shell: Shell, frame: Floats, x_mm: float, lug: LugSettings) -> float:
    """How far the outer side lies below the lug's plane under the arm at ``x_mm``, mm."""
    local = (shell.outer_side[:, shell.wall].reshape(-1, 3) - frame[:3, 3]) @ frame[:3, :3]
    under = np.abs(local[:, 0] - x_mm) < 0.6 * lug.bar_mm
    under &= (local[:, 1] > -lug.base_length_mm) & (local[:, 1] < 1.0)
    under &= np.abs(local[:, 2]) < 15.0  # the other side of the body is not meant
    return round(float(max(-local[under, 2].mean(), 0.0)) + _ROOT_MM, 3) if under.any() else _ROOT_MM

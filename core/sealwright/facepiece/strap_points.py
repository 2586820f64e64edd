"""Where the straps are anchored: lug frames on the outer side of the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..hardware.options import LugSettings
from ..mesh import Floats
from ..settings import quantity, section
from .shell import Shell


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
    lean_deg: float = quantity(
        35.0, "deg", 0.0, 60.0, "Largest lean of a lug from the print direction, port down."
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
    station : index along the seal line.
    """

    frame: Floats
    pull: Floats
    station: int


def strap_points(shell: Shell, axis: Floats, settings: StrapSettings) -> list[StrapPoint]:
    """Anchors of a shell, mirrored left and right, upper pair first.

    Parameters
    ----------
    shell : band and wall.
    axis : (3,) unit port axis, out of the mask.
    settings : places and lean.
    """
    half = len(shell.outer_side) / 2.0
    pairs = settings.lug.count // 2
    shares = np.linspace(settings.upper_share, settings.lower_share, pairs) if pairs > 1 else [0.45]
    points = []
    for share in shares[:pairs]:
        offset = int(round(share * half))
        points += [
            _point(shell, axis, settings, station) for station in (offset, len(shell.outer_side) - offset)
        ]
    return points


def _point(shell: Shell, axis: Floats, settings: StrapSettings, station: int) -> StrapPoint:
    first = int(np.flatnonzero(shell.wall)[0])
    outer = shell.outer_side[station]
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(outer[first:], axis=0), axis=1))])
    row = first + min(int(np.searchsorted(walked, settings.up_the_wall_mm)), len(walked) - 5)
    origin, normal = outer[row], shell.normals[station, row]
    back = outer[row - 1] - outer[row + 1]
    back = back / np.linalg.norm(back)
    lean = np.arccos(np.clip(back @ -axis, -1.0, 1.0))
    most = np.radians(settings.lean_deg)
    if lean > most:  # turn the lug towards the print direction so that it needs no support
        side = back + axis * (back @ -axis)
        side = side / np.linalg.norm(side)
        back = -np.cos(most) * axis + np.sin(most) * side
    off = normal - (normal @ back) * back
    off = off / np.linalg.norm(off)
    frame = np.eye(4)
    frame[:3, :3] = np.stack([np.cross(back, off), back, off], axis=1)
    frame[:3, 3] = origin
    pull = np.array([0.55 * np.sign(origin[0]), 1.0, 0.25 if origin[2] > -20.0 else -0.05])
    return StrapPoint(frame, pull / np.linalg.norm(pull), station)

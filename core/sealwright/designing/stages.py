"""The stages of a design that stand on the laid-out facepiece: ports, straps, lugs, hardware, measuring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..checks.fit import EntryCheck, FitCheck, check_entry, check_fit
from ..checks.wall import (
    ClearanceCheck,
    WallCheck,
    check_clearance,
    check_wall,
    clear_side,
    measured_side,
    side_distance,
)
from ..cushion.settings import cushion_of
from ..face.scanned import skin_near
from ..face.surface import FaceSurface
from ..facepiece.body import Placed
from ..facepiece.port_place import mouth_middle, port_frame
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell
from ..facepiece.side_port import side_port_frame
from ..facepiece.strap_points import StrapPoint, StrapSettings, strap_points
from ..hardware.holder import HolderParts
from ..hardware.lugs import MERIDIANS, LugParts, make_lug
from ..hardware.ports import PortParts, make_port
from ..mesh import Floats
from ..solids.boolean import Solid
from .body import Built
from .context import Context
from .fittings import hardware_parts, holders_of, outside_parts, require_off_skin, require_room
from .shape import Shape

_AIM_MM = 12.0  # in front of the lips: an axis that leaves from there leaves from within the chamber
# A port is the same on every face: the last ones are kept for the whole session.
_port = lru_cache(maxsize=8)(make_port)


def port_stage(context: Context) -> Placed:
    """The first port, which the chamber wall runs into, where the recipe puts it."""
    place = context.recipe.ports[0]
    frame = port_frame(mouth_middle(context.prepared.landmarks), place)
    return Placed(_port(place.connection, context.allowance), frame)


def strap_stage(context: Context, shape: Shape, straps: StrapSettings | None = None) -> list[StrapPoint]:
    """Where the straps pull; other ``straps`` than the recipe's where those stand in the way of something."""
    chosen = context.recipe.straps if straps is None else straps
    return strap_points(shape.shell, chosen, shape.port.frame[:3, 2], context.allowance)


def lug_stage(context: Context, straps: Sequence[StrapPoint], meridians: int = MERIDIANS) -> list[LugParts]:
    """A lug for each strap; its root follows the wall under it."""
    lug = context.recipe.straps.lug
    return [
        context.cache.call_as(
            f"{number} of {meridians}", make_lug, lug, context.allowance, point.wall, meridians
        )
        for number, point in enumerate(straps)
    ]


def further_ports(context: Context, shell: Shell) -> list[Placed]:
    """The ports after the first, each standing on the wall where its axis leaves the chamber."""
    mouth = mouth_middle(context.prepared.landmarks)
    placed = []
    for number, place in enumerate(context.recipe.ports[1:], start=2):
        parts = _port(place.connection, context.allowance)
        aim = port_frame(mouth, replace(place, front_mm=_AIM_MM))
        key = f"recipe.ports[{number - 1}]"
        placed.append(Placed(parts, side_port_frame(shell, aim, parts, number), key))
    return placed


def hardware_stage(
    context: Context, ports: Sequence[Placed], lugs: Sequence[tuple[LugParts, StrapPoint]], built: Built
) -> tuple[list[HolderParts | None], dict[str, Solid]]:
    """What is screwed on and stands on the ports, in place: the holder of each port, and all parts by name.

    Raises
    ------
    DoesNotFit : a part in the way of another, or on the skin.
    """
    holders = holders_of(context.recipe, ports, context.allowance)
    require_room(ports, holders, (built.shell, built.body), lugs)
    parts, frames = [placed.parts for placed in ports], [placed.frame for placed in ports]
    context.cache.call(_off_skin, context.prepared.face, parts, frames, holders)
    return holders, hardware_parts(context.recipe, ports, holders)


def _off_skin(
    face: FaceSurface,
    parts: Sequence[PortParts],
    frames: Sequence[Floats],
    holders: Sequence[HolderParts | None],
) -> None:
    ports = [Placed(part, frame) for part, frame in zip(parts, frames, strict=True)]
    require_off_skin(face, outside_parts(ports, holders))


@dataclass(frozen=True, eq=False, kw_only=True)
class Measured:
    """What is measured on a finished body.

    Attributes
    ----------
    fit, wall, entry : contact, thickness of the wall, and how deep the body enters the face.
    clearance : from nose and lips to the chamber side.
    """

    fit: FitCheck
    wall: WallCheck
    entry: EntryCheck
    clearance: ClearanceCheck


def measure_stage(context: Context, line: SealLine, shape: Shape, built: Built) -> Measured:
    """Contact, wall, clearance and entry of a body."""
    face, recipe, call = context.prepared.face, context.recipe, context.cache.call
    band, shell = shape.band, shape.shell
    near = call(skin_near, face, band.grid.reshape(-1, 3))
    soft = cushion_of(recipe.cushion)
    fit = call(check_fit, face, line, band, built.on_skin.mesh, near, soft.thickness_mm - soft.seated_mm)
    side = call(side_distance, measured_side(shell))
    skin, end, wanted = context.prepared.nose_and_lips, shell.chamber_side[:, 0], recipe.chamber.clearance_mm
    clearance = call(check_clearance, skin, end, clear_side(shell), wanted)
    wall = check_wall(shell, recipe.chamber.wall_mm, side)
    entry = check_entry(face, built.body.mesh, band.stand_off, near)
    return Measured(fit=fit, wall=wall, entry=entry, clearance=clearance)


def tube_frame(context: Context) -> Floats:
    """Where a plain tube begins: 4x4, at the middle of the mouth, turned as the first port."""
    mouth, ports = mouth_middle(context.prepared.landmarks), context.recipe.ports
    frame = np.eye(4)
    frame[:3, :3] = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0.0]])
    if ports:
        frame[:3, :3] = port_frame(mouth, replace(ports[0], front_mm=_AIM_MM))[:3, :3]
    frame[:3, 3] = mouth
    return frame

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
from ..errors import DoesNotFit
from ..face.scanned import skin_near
from ..face.surface import FaceSurface
from ..facepiece.body import Placed
from ..facepiece.port_place import PortPlaceSettings, mouth_middle, port_frame
from ..facepiece.seal_line import SealLine
from ..facepiece.strap_points import Placing, StrapPoint, StrapSettings, strap_points
from ..hardware.allowance import Allowance
from ..hardware.cap import port_cap
from ..hardware.holder import HolderParts
from ..hardware.holder_layout import HolderLayout, holder_layout
from ..hardware.lugs import MERIDIANS, LugParts, make_lug
from ..hardware.options import THREADED
from ..hardware.port_tube import on_tube
from ..hardware.ports import PortParts, make_port
from ..mesh import Floats
from ..recipe import Recipe
from ..recipe.decisions import holder_on, ports_of
from ..solids.boolean import Solid
from ..solids.primitives import cylinder
from .body import Built
from .context import Context
from .fittings import hardware_parts, holders_of, outside_parts, require_off_skin, require_room
from .nearest_port import skin_points
from .port_spot import (
    AIM_MM,
    PortSpot,
    Site,
    find_port_spot,
    hung_room,
    mirrored_spot,
    no_spot,
    smaller_media,
)
from .shape import Shape

_SMALL_MM = (32.0, 18.0, 70.0)  # thread, bore and medium of a small side filter
_FINGERS_MM = 6.0  # round a blind cap, which finger tips turn
_CLOSE_MM = 3.0  # between the points of a lug that are looked at
# A port is the same on every face: the last ones are kept for the whole session.
_port = lru_cache(maxsize=8)(make_port)
_cap = lru_cache(maxsize=4)(port_cap)


def port_stage(context: Context) -> Placed:
    """The first port, which the chamber wall runs into, where the recipe puts it."""
    recipe = context.recipe
    frame = port_frame(mouth_middle(context.prepared.landmarks), recipe.ports[0])
    return Placed(carrying(recipe, 0, context.allowance), frame)


def carrying(recipe: Recipe, number: int, allowance: Allowance) -> PortParts:
    """The parts of a port (from 0) with the cap that it carries, if any."""
    place = ports_of(recipe)[number]
    parts = _port(place.connection, allowance)
    if holder_on(recipe, number) is not None:
        return replace(parts, holds=True)
    if place.carries == "cap" and place.connection.kind in THREADED:
        cap = _cap(place.connection, allowance)
        low, high = parts.keep_clear.mesh.bounds[:, 2]
        room = cylinder(float(cap.mesh.bounds[1, 0]) + _FINGERS_MM, float(low), float(high), "cap room")
        return replace(parts, extra=(*parts.extra, cap), keep_clear=room)
    return parts


def strap_stage(
    context: Context,
    shape: Shape,
    straps: StrapSettings | None = None,
    way: Placing = "apart",
) -> list[StrapPoint]:
    """Where the straps pull.

    Other ``straps`` than the recipe's are given where those stand in the way of something; ``way`` as of
    `strap_points`.
    """
    chosen = context.recipe.straps if straps is None else straps
    return strap_points(shape.shell, chosen, shape.port.frame[:3, 2], context.allowance, way)


def lug_stage(context: Context, straps: Sequence[StrapPoint], meridians: int = MERIDIANS) -> list[LugParts]:
    """A lug for each strap; its root follows the wall under it."""
    lug = context.recipe.straps.lug
    return [
        context.cache.call_as(
            f"{number} of {meridians}", make_lug, lug, context.allowance, point.wall, meridians
        )
        for number, point in enumerate(straps)
    ]


def further_ports(
    context: Context, shape: Shape, lugs: Sequence[tuple[LugParts, StrapPoint]], copy: str = ""
) -> list[Placed]:
    """The ports after the first, each where it has room on the wall near the axis that the recipe wishes.

    ``copy`` names what is kept beside that for lugs at other places.

    Raises
    ------
    DoesNotFit : one finds no room; it is said what would fit there.
    """
    recipe, placed = context.recipe, [shape.port]
    spots = dict[int, PortSpot]()
    for number, place in enumerate(recipe.ports[1:], start=1):
        site, layout = _site(context, shape, lugs, placed), _layout(context, number)
        parts = carrying(recipe, number, context.allowance)
        twin = _twin(recipe, number)
        found: PortSpot | str | None = None
        if twin in spots:
            found = mirrored_spot(spots[twin], parts, layout, site)
        if found is None:
            site = replace(site, twin=twin is not None and twin not in spots)
            found = context.cache.call_as(f"{number} {copy}", find_port_spot, place, parts, layout, site)
        if isinstance(found, str):
            frame = port_frame(site.mouth, replace(place, front_mm=AIM_MM))
            fix = "Let the lugs stand elsewhere." if copy else _would_fit(context, number, parts, site)
            raise no_spot(number + 1, frame, found, fix)
        spots[number] = found
        placed.append(Placed(on_tube(parts, found.flank_mm), found.frame, f"recipe.ports[{number}]"))
    return placed[1:]


def _twin(recipe: Recipe, number: int) -> int | None:
    """The further port that is wished as the mirror of another, None without one."""
    place = recipe.ports[number]
    for other, one in enumerate(recipe.ports[1:], start=1):
        if place.turn_deg != 0.0 and one == replace(place, turn_deg=-place.turn_deg):
            return other
    return None


def _layout(context: Context, number: int, disc_mm: float | None = None) -> HolderLayout | None:
    """The layout of the holder on a port, None without one; with another medium where that is tried."""
    settings, connection = holder_on(context.recipe, number), context.recipe.ports[number].connection
    if settings is None:
        return None
    if disc_mm is not None:
        settings = replace(settings, shape="disc", disc_mm=disc_mm)
    return holder_layout(settings, connection, context.allowance)


def _site(
    context: Context,
    shape: Shape,
    lugs: Sequence[tuple[LugParts, StrapPoint]],
    placed: Sequence[Placed],
) -> Site:
    """What a further port has to do with: wall, lugs with their straps, skin, and the ports before it."""
    shell = shape.shell
    standing = [
        solid.moved(place.frame).with_short_edges(_CLOSE_MM).mesh.vertices
        for lug, place in lugs
        for solid in (lug.solid, lug.webbing)
    ]
    body = [shell.outer_side.reshape(-1, 3), shell.edge.reshape(-1, 3)]
    taken = [
        room
        for number, port in enumerate(placed)
        for room in hung_room(port.frame, port.parts, _layout(context, number))
    ]
    return Site(
        mouth=mouth_middle(context.prepared.landmarks),
        wall=shell.outer_side[:, np.flatnonzero(shell.wall)].reshape(-1, 3),
        body=np.concatenate(body),
        lugs=_thinned(np.concatenate(standing)) if standing else np.zeros((0, 3)),
        skin=context.cache.call(skin_points, context.prepared.face),
        taken=tuple(taken),
    )


def _thinned(points: Floats) -> Floats:
    """One of the points (n, 3) in each small cube."""
    _, first = np.unique(np.floor(points / (0.5 * _CLOSE_MM)), axis=0, return_index=True)
    return np.asarray(points[np.sort(first)])


def _would_fit(context: Context, number: int, parts: PortParts, site: Site) -> str:
    """The nearest thing that has room: a smaller medium there, else what may be changed."""
    settings = holder_on(context.recipe, number)
    for disc in smaller_media(settings.disc_mm) if settings is not None else ():
        try:
            layout = _layout(context, number, disc)
        except DoesNotFit:  # smaller than its cap
            break
        if not isinstance(find_port_spot(context.recipe.ports[number], parts, layout, site), str):
            return f"A medium of {disc:g} mm fits there (recipe.ports[{number}].disc_mm)."
    small = _small(context.recipe, number)
    if small is not None and not isinstance(_spot_of(context, small, site), str):
        thread, medium = small.connection, small.disc_mm or 0.0
        return (
            f"A thread of {thread.diameter_mm:g} mm with a bore of {thread.bore_mm:g} mm and a medium of "
            f"{medium:g} mm fits there (recipe.ports[{number}])."
        )
    nothing = "" if small is None else " Beside what stands there a small side filter does not fit either."
    return (
        f"Turn it further to the side (recipe.ports[{number}].turn_deg), take fewer lugs, or a valve or a "
        f"smaller thread as the first port.{nothing}"
    )


def _small(recipe: Recipe, number: int) -> PortPlaceSettings | None:
    """A port with the thread and the medium of a small side filter, where it carries a larger one."""
    place = recipe.ports[number]
    if holder_on(recipe, number) is None or place.connection.diameter_mm <= _SMALL_MM[0]:
        return None
    thread, bore, disc = _SMALL_MM
    connection = replace(place.connection, diameter_mm=thread, bore_mm=bore, ring=None)
    return replace(place, disc_mm=disc, connection=connection)


def _spot_of(context: Context, place: PortPlaceSettings, site: Site) -> PortSpot | str:
    """The spot of a port that is only tried."""
    recipe = replace(context.recipe, ports=(place,))
    held = holder_on(recipe, 0)
    layout = None if held is None else holder_layout(held, place.connection, context.allowance)
    return find_port_spot(place, carrying(recipe, 0, context.allowance), layout, site)


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
        frame[:3, :3] = port_frame(mouth, replace(ports[0], front_mm=AIM_MM))[:3, :3]
    frame[:3, 3] = mouth
    return frame

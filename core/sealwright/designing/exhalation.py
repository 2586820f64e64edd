"""The exhalation valve on the chamber wall: whether there is one, and where it has room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np

from ..errors import DoesNotFit, Remark, Where, plain_point
from ..facepiece.body import Placed
from ..facepiece.cylinder_room import Cylinder
from ..facepiece.strap_points import StrapPoint
from ..facepiece.valve_place import LUG, PLACES, NoSpot, Spot, Surroundings, find_spot, on_axis
from ..hardware.cartridge import FLAPS_MM, CartridgeLayout, cartridge_layout
from ..hardware.holder_layout import holder_layout
from ..hardware.lugs import LugParts
from ..hardware.port_facts import MalePortFacts
from ..hardware.valve import side_valve_port
from ..limits import limit
from ..recipe.decisions import holder_on
from .context import Context
from .filter_air import misses_breathing_out
from .port_spot import hung_room, tube_room
from .shape import Shape

KEY = "recipe.exhalation.place"
_WORDS = {"chin": "under the chin", "left": "on the wearer's left", "right": "on the wearer's right"}
_LONGER = "A port further out (recipe.ports[0].front_mm, 32 to 40 mm) makes a longer wall with more room."
_CLOSE_MM = 2.0  # between the points of a lug that are looked at
_SKETCHED_MM = 4.0  # height of a boss that is only sketched
_OFF_BOSS_MM = 0.5  # between cover and ports
# A cartridge of some size is the same on every face: the last ones are kept for the whole session.
_port = lru_cache(maxsize=8)(side_valve_port)


def exhalation_stage(
    context: Context,
    shape: Shape,
    lugs: Sequence[tuple[LugParts, StrapPoint]],
    ports: Sequence[Placed] = (),
) -> tuple[list[Placed], tuple[Remark, ...]]:
    """The exhalation valve in place among lugs and further ports that stand; and what the maker should know.

    Raises
    ------
    DoesNotFit : it has no room there.
    BadRecipe : a value out of range.
    """
    around = _surroundings(context, shape, lugs, ports)
    missed: dict[str, NoSpot] = {}
    for plan, place in _tries(context):
        found = context.cache.call_as(f"{place} {plan.flap:g}", find_spot, plan, place, around)
        if isinstance(found, Spot):
            return [_placed(context, plan, found)], _past_port(found)
        missed.setdefault(place, found)
    raise _refusal(context, around, missed)


def no_valve(refusal: DoesNotFit) -> tuple[Remark, ...]:
    """What the maker is told where an automatic valve has no room."""
    text = f"There is no exhalation valve. {refusal.what} {refusal.fix}"
    return (Remark("warning", text, refusal.where),)


def sketched_valve(context: Context, shape: Shape) -> list[Placed]:
    """The valve of a sketch, which looks for no place: on the middle of the wall under the chin."""
    if not wants_valve(context, shape):
        return []
    plan = cartridge_layout(context.recipe.exhalation.valve, context.allowance)
    outer, normals = shape.shell.outer_side, shape.shell.normals
    station, rows = len(outer) // 2, np.flatnonzero(shape.shell.wall)
    row = int(rows[len(rows) // 2])
    frame = on_axis(outer[station, row], normals[station, row], shape.port.frame[:3, 0])
    return [Placed(_port(plan, _SKETCHED_MM, context.allowance), frame, KEY)]


def wants_valve(context: Context, shape: Shape) -> bool:
    """Whether a valve is asked for, or is automatic, needed for breathing out, and may be printed."""
    recipe, place = context.recipe, context.recipe.exhalation.place
    if place is not None:
        return place != "none"
    if recipe.chamber.overhang == "limit":
        return False  # the boss and the mouth of its bore would need supports
    facts = shape.port.parts.facts
    own = any(port.connection.kind == "valve" for port in recipe.ports)
    if own or not isinstance(facts, MalePortFacts) or holder_on(recipe, 0) is None:
        return False  # what the maker screws or pushes on is not known
    return misses_breathing_out(recipe, facts, context.allowance)


def _tries(context: Context) -> Iterator[tuple[CartridgeLayout, str]]:
    """Cartridges and places in the order they are tried: the largest flap anywhere first."""
    chosen = context.recipe.exhalation
    flaps = FLAPS_MM if chosen.valve.flap_mm is None else (chosen.valve.flap_mm,)
    places = PLACES if chosen.place is None else (chosen.place,)
    for flap, place in product(flaps, places):
        yield cartridge_layout(chosen.valve, context.allowance, flap), place


def _placed(context: Context, plan: CartridgeLayout, spot: Spot) -> Placed:
    frame = spot.frame.copy()
    frame[:3, 3] -= spot.flank_mm * frame[:3, 2]
    parts = _port(plan, spot.flank_mm, context.allowance)
    return Placed(parts, frame, KEY, alone=spot.past_port)


def _past_port(spot: Spot) -> tuple[Remark, ...]:
    if not spot.past_port:
        return ()
    text = (
        "The exhalation valve is put in and taken out before the holder is screwed on: it stands before it."
    )
    return (Remark("note", text, Where("exhalation valve", point=plain_point(spot.frame[:3, 3]), key=KEY)),)


def _refusal(context: Context, around: Surroundings, missed: dict[str, NoSpot]) -> DoesNotFit:
    """Why there is no room, and what would fit."""
    chosen = context.recipe.exhalation
    flap = chosen.valve.flap_mm or FLAPS_MM[-1]
    told = [f"{_WORDS[place]}, the {why.blocked_by} is in the way" for place, why in missed.items()]
    return DoesNotFit(
        f"An exhalation valve with a flap of {flap:g} mm has no room: {'; '.join(told)}.",
        Where("exhalation valve", point=plain_point(next(iter(missed.values())).point), key=KEY),
        _would_fit(context, around, missed),
    )


def _would_fit(context: Context, around: Surroundings, missed: dict[str, NoSpot]) -> str:
    """The nearest thing that has room: a smaller flap there, or another place."""
    chosen = context.recipe.exhalation
    # A port that may stand further out is tried there for a valve that the maker places.
    longer = "" if chosen.place is not None and context.recipe.ports[0].further_out else f" {_LONGER}"
    asked = chosen.valve.flap_mm or FLAPS_MM[-1]
    flaps = [flap for flap in (asked, *FLAPS_MM) if flap <= asked]
    tries = [(flap, place) for flap in flaps if flap < asked for place in missed]
    tries += [(flap, place) for flap in dict.fromkeys(flaps) for place in PLACES if place not in missed]
    for flap, place in tries:
        plan = cartridge_layout(replace(chosen.valve, flap_mm=flap), context.allowance)
        if isinstance(find_spot(plan, place, around), Spot):
            return f"A flap of {flap:g} mm fits {_WORDS[place]}.{longer}"
    return f"Use fewer or narrower strap lugs, or more medium area instead of a valve.{longer}"


def _surroundings(
    context: Context,
    shape: Shape,
    lugs: Sequence[tuple[LugParts, StrapPoint]],
    ports: Sequence[Placed],
) -> Surroundings:
    """What the cartridge must keep clear of."""
    shell, recipe = shape.shell, context.recipe
    standing = [lug.solid.moved(point.frame).with_short_edges(_CLOSE_MM) for lug, point in lugs]
    return Surroundings(
        outer=shell.outer_side,
        normals=shell.normals,
        edge=shell.edge,
        wall=shell.wall,
        port=shape.port.frame,
        cylinders=_hung(context, (shape.port, *ports)),
        tubes=tuple(tube_room(port.frame, port.parts, _OFF_BOSS_MM) for port in ports),
        things={LUG: np.concatenate([lug.mesh.vertices for lug in standing])} if standing else {},
        face=context.prepared.face,
        nose_and_lips=context.prepared.nose_and_lips,
        clearance_mm=recipe.chamber.clearance_mm,
        off_skin_mm=limit("off_skin").value,
    )


def _hung(context: Context, ports: Sequence[Placed]) -> tuple[Cylinder, ...]:
    """Ports and what hangs on them."""
    found: list[Cylinder] = []
    for number, port in enumerate(ports):
        settings = holder_on(context.recipe, number)
        connection = context.recipe.ports[number].connection
        holder = None if settings is None else holder_layout(settings, connection, context.allowance)
        found += [tube_room(port.frame, port.parts, _OFF_BOSS_MM), *hung_room(port.frame, port.parts, holder)]
    return tuple(found)

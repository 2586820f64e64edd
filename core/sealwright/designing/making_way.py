"""What makes way where a port or the valve has no room: lugs move along the line, the first port out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

from ..errors import DesignError, DoesNotFit, Remark, Where, plain_point
from ..facepiece.body import Placed
from ..facepiece.cylinder_room import Cylinder
from ..facepiece.seal_line import SealLine
from ..facepiece.strap_points import Placing, StrapPoint, StrapSettings
from ..facepiece.valve_place import LUG
from ..hardware.lugs import STRAP_PLAY_MM, LugParts
from ..limits import limit
from ..progress import Job, Step, steps_within
from .context import Context
from .exhalation import KEY, exhalation_stage, no_valve, wants_valve
from .seal_and_shape import seal_and_shape_steps
from .shape import Shape
from .stages import further_ports, lug_stage, strap_stage

_UPPER, _LOWER = (0.0, -0.06, 0.06, -0.12), (0.0, 0.08, -0.08, 0.15)  # shares of the way from nose to chin
_UPPER_RANGE, _LOWER_RANGE = (0.1, 0.45), (0.5, 0.9)  # as the recipe bounds them
_OUT_MM = (5.0, 10.0, 15.0, 20.0)  # further out of the first port, tried in turn: each is air and a lever
_CLOSE_MM = 2.0  # between the points of a lug that are looked at
_FURTHEST_MM = 50.0  # from the lips

Standing = Sequence[tuple[LugParts, StrapPoint]]


@dataclass(frozen=True, eq=False)
class Fitted:
    """Lugs and their places, further ports, the valve (none or one), and what the maker should know."""

    standing: Standing
    ports: list[Placed]
    valves: list[Placed]
    told: tuple[Remark, ...]


@dataclass(frozen=True, eq=False)
class Laid:
    """A facepiece before any solid.

    Attributes
    ----------
    line, shape : seal line, and what lies along it.
    straps : where the recipe wants them.
    found : what stands on the wall; None for a sketch.
    """

    line: SealLine
    shape: Shape
    straps: Sequence[StrapPoint]
    found: Fitted | None = None


def laid_steps(context: Context, asked: Placed) -> Job[Laid]:
    """Seal line, facepiece, and room for all that stands on it; for that the first port may move out.

    Parameters
    ----------
    context : wearer, recipe, quality.
    asked : the first port where the recipe puts it.

    Raises
    ------
    DoesNotFit : a port, or a valve that the maker asked for, has no room however far out the first port is.
    DesignError : any refusal of a stage.
    """
    line, shape = yield from steps_within(seal_and_shape_steps(context, asked), 0.0, 0.8)
    straps = strap_stage(context, shape)
    if not context.quality.solids:
        return Laid(line, shape, straps)
    yield Step(0.8, "Finding places for further ports and the exhalation valve")
    try:
        return Laid(line, shape, straps, fitted(context, shape, straps))
    except DoesNotFit as refusal:
        if not context.recipe.ports[0].further_out or not _lacks_room(refusal):
            raise
        refused = refusal
    outs = [out for out in _OUT_MM if shape.facts.port_front_mm + out <= _FURTHEST_MM]
    for out in outs:
        further = replace(context, out_mm=out)
        try:
            line, moved = yield from steps_within(seal_and_shape_steps(further, asked), 0.8, 1.0)
            straps = strap_stage(further, moved)
            found = fitted(further, moved, straps)
        except DesignError:
            continue
        return Laid(line, moved, straps, replace(found, told=(*found.told, _moved_out(moved, out, refused))))
    refused.also(f"A port up to {outs[-1]:.0f} mm further out was tried and does not help." if outs else "")
    raise refused


def _lacks_room(refusal: DoesNotFit) -> bool:
    """Whether a refusal is about a place on the wall, and not about parts that are too large anywhere."""
    key = refusal.where.key
    return key in (KEY, "recipe.straps") or (key.startswith("recipe.ports[") and key.endswith("]"))


def _moved_out(shape: Shape, out_mm: float, refused: DoesNotFit) -> Remark:
    text = (
        f"The port stands {shape.facts.port_front_mm:.1f} mm in front of the lips, {out_mm:.0f} mm further "
        f"out than it must: so the {refused.where.role} has room on the wall."
    )
    return Remark("note", text, Where("port", key="recipe.ports[0].front_mm"))


def fitted(context: Context, shape: Shape, straps: Sequence[StrapPoint]) -> Fitted:
    """Lugs where the recipe wants them, ports and valve with room; else the lugs make way, a little.

    Raises
    ------
    DoesNotFit : a port, or a valve that the maker asked for, has no room wherever the lugs stand.
    BadRecipe : a value out of range.
    """
    standing = _threaded(context, shape, _standing(context, straps))
    try:
        return _among(context, shape, standing)
    except DoesNotFit as refusal:
        refused = refusal
    placings: tuple[Placing, ...] = ("apart", "meeting")
    ways = product(placings, _asides(context.recipe.straps)) if LUG in refused.what else ()
    for way, aside in ways:  # lugs that meet further down are still better than no room
        try:
            moved = _standing(context, strap_stage(context, shape, aside, way))
            found = _among(context, shape, moved, f"{aside.upper_share:.2f} {aside.lower_share:.2f} {way}")
        except DoesNotFit:
            continue
        return replace(found, told=(*found.told, _moved(aside)))
    if context.recipe.exhalation.place is not None or not wants_valve(context, shape):
        raise refused
    return Fitted(standing, further_ports(context, shape, standing), [], no_valve(refused))


def _among(context: Context, shape: Shape, standing: Standing, copy: str = "") -> Fitted:
    """Further ports and valve among lugs that stand; ``copy`` tells these from others in the cache.

    Raises
    ------
    DoesNotFit : one has no room.
    """
    _require_way(shape.port, standing)
    ports = further_ports(context, shape, standing, copy)
    if not wants_valve(context, shape):
        return Fitted(standing, ports, [], ())
    return Fitted(standing, ports, *exhalation_stage(context, shape, standing, ports))


def _require_way(port: Placed, standing: Standing) -> None:
    """Refuse lugs in the way of a cartridge in the first port.

    Raises
    ------
    DoesNotFit : one stands there.
    """
    if not port.parts.reaches_in:
        return
    low, high = port.parts.keep_clear.mesh.bounds
    way = Cylinder(port.frame, float(high[0]), float(low[2]), float(high[2]))
    for lug, place in standing:
        if way.holds(lug.solid.moved(place.frame).with_short_edges(_CLOSE_MM).mesh.vertices):
            raise DoesNotFit(
                f"The valve in the first port cannot be put in: a {LUG} is in its way.",
                Where("valve", point=plain_point(place.frame[:3, 3]), key="recipe.straps"),
                "Use fewer or narrower lugs, or move them (recipe.straps.lower_share, upper_share).",
            )


def _threaded(context: Context, shape: Shape, standing: Standing) -> Standing:
    """The lugs; placed at once where, one pair after the other, one stands in the way of another's strap."""
    if not _strap_blocked(standing):
        return standing
    moved = _standing(context, strap_stage(context, shape, way="together"))
    return standing if _strap_blocked(moved) else moved


def _strap_blocked(standing: Standing) -> bool:
    """Whether a strap lacks its play to another lug."""
    least = STRAP_PLAY_MM - limit("assembly_play").value
    return any(
        one.webbing.moved(at.frame).native.min_gap(other.solid.moved(there.frame).native, STRAP_PLAY_MM)
        < least
        for (one, at), (other, there) in permutations(standing, 2)
    )


def _standing(context: Context, straps: Sequence[StrapPoint]) -> Standing:
    return list(zip(lug_stage(context, straps), straps, strict=True))


def _asides(straps: StrapSettings) -> Iterator[StrapSettings]:
    """Other places of the lugs, the nearest first; of a single pair the one share that counts for it."""
    ways = sorted(product(_UPPER, _LOWER), key=lambda way: abs(way[0]) + abs(way[1]))
    for up, down in ways[1:]:
        upper, lower = straps.upper_share + up, straps.lower_share + down
        if _within(upper, _UPPER_RANGE) and _within(lower, _LOWER_RANGE):
            yield replace(straps, upper_share=upper, lower_share=lower)


def _within(share: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] <= share <= bounds[1]


def _moved(straps: StrapSettings) -> Remark:
    text = (
        f"The strap lugs make way: they stand at {straps.upper_share:.2f} and "
        f"{straps.lower_share:.2f} of the way from nose to chin."
    )
    return Remark("note", text, Where("lug", key="recipe.straps.lower_share"))

"""Ports, lugs and cuts of a recipe on a shape of the maker's own: stood, joined, held against all else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..checks.own_shape import FittingFacts, Skin
from ..errors import Remark, Where, plain_point
from ..hardware.allowance import Allowance, allowance_of
from ..hardware.collisions import Room, require_free
from ..hardware.holder import HolderParts
from ..hardware.holder_layout import holder_layout
from ..hardware.lugs import half_span
from ..hardware.port_parts import PortParts
from ..hardware.port_tube import tube_radius_mm
from ..mesh import Bools, Floats
from ..own_shapes.joining import Joined, cut, join, require_untouched, rooms_of
from ..own_shapes.settings import FittingSettings
from ..own_shapes.standing_frame import Aim, standing_frame
from ..own_shapes.standing_lug import StandingLug, standing_lug
from ..own_shapes.standing_port import StandingPort, standing_port
from ..printing.orientation import best_orientations
from ..recipe import Recipe
from ..recipe.decisions import fittings_of, holder_on, ports_of
from ..solids.boolean import Solid, filled
from ..solids.distance import MeshDistance
from .fittings import hardware_parts, holders_of, outside_parts, print_up, require_off_skin, require_room
from .prepared import Prepared
from .stages import carrying

_LONG_MM = 20.0  # a bore longer than that is told: air and condensate stand in it
_NEW_MM = 1e-3  # a surface that lies nearer to the shape is not of a fitting
_TOLD_MM2 = 20.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """A shape that is to be fitted.

    Attributes
    ----------
    solid : closed, face frame.
    skin : what it lies on.
    kept : (m,) triangles of the solid that no fitting may take: its contact band.
    """

    solid: Solid
    skin: Skin
    kept: Bools


@dataclass(frozen=True, eq=False, kw_only=True)
class Fitted:
    """A shape with its fittings.

    Attributes
    ----------
    solid : one sound piece.
    ports, lugs : as they stand.
    holders : of each port, None where it carries none.
    parts : what is printed beside it, by name, in place.
    print_up : which way up it and they print; a part that is missing is searched.
    facts : for the report.
    told : what the maker should know.
    """

    solid: Solid
    ports: tuple[StandingPort, ...] = ()
    lugs: tuple[StandingLug, ...] = ()
    holders: tuple[HolderParts | None, ...] = ()
    parts: Mapping[str, Solid] = field(default_factory=dict)
    print_up: Mapping[str, Floats] = field(default_factory=dict)
    facts: tuple[FittingFacts, ...] = ()
    told: tuple[Remark, ...] = ()


def fitted_shape(prepared: Prepared, recipe: Recipe, ground: Ground, cutters: Sequence[Solid]) -> Fitted:
    """A shape of the maker's own with the recipe's fittings and the maker's cuts.

    Parameters
    ----------
    prepared : the wearer.
    recipe : its sections fittings, holder, allowance and printer are used.
    ground : the shape.
    cutters : closed, face frame; they are cut before the fittings are stood.

    Raises
    ------
    DoesNotFit : a place, a size or a collision that cannot be, with what would fit.
    """
    allowance = allowance_of(recipe.allowance)
    body = cut(ground.solid, cutters)
    ports = [_port(body, recipe, number, allowance) for number in range(len(ports_of(recipe)))]
    lugs = [standing_lug_of(body, key, one, allowance) for key, one in fittings_of(recipe, "lug").items()]
    joined = join(body, ports, lugs)
    fix = "Move it off the band, or choose a narrower band (recipe.band.width_mm)."
    require_untouched(ground.solid.mesh, joined.solid.mesh, ground.kept, "contact band", fix)
    require_free([Room("skin", ground.skin.solid)], rooms_of(ports, lugs))
    placed = [port.placed for port in ports]
    holders = holders_of(recipe, placed, allowance)
    standing = [(lug.parts, lug.point) for lug in lugs]
    require_room(placed, holders, (body, joined.solid), standing, ("recipe.fittings", "recipe.fittings"))
    for face in (ground.skin.face, prepared.face):
        require_off_skin(face, outside_parts(placed, holders))
    whole, hollow = filled(joined.solid)
    up = {name: way for name, way in print_up(placed, holders).items() if name != "body"}
    told = [*_hollow_told(whole, hollow), *_told(ports, lugs, holders)]
    if ports or lugs:
        best = best_orientations(whole, recipe.printer, [-port.frame[:3, 2] for port in placed])[0]
        up[whole.role] = best.up
        told += _overhang_told(body, joined, best.up, recipe.printer.overhang_deg)
    return Fitted(
        solid=whole,
        ports=tuple(ports),
        lugs=tuple(lugs),
        holders=tuple(holders),
        parts=hardware_parts(recipe, placed, holders),
        print_up=up,
        facts=_facts(ports, lugs),
        told=tuple(told),
    )


def _port(body: Solid, recipe: Recipe, number: int, allowance: Allowance) -> StandingPort:
    """The port of a number (from 0) on a body."""
    key, place = list(fittings_of(recipe, "port").items())[number]
    parts, settings = carrying(recipe, number, allowance), holder_on(recipe, number)
    layout = None if settings is None else holder_layout(settings, place.connection, allowance)
    frame = fitting_frame(body, place, parts, f"port {number + 1}")
    return standing_port(body, parts, frame, layout, key)


def fitting_frame(body: Solid, place: FittingSettings, parts: PortParts, role: str = "port") -> Floats:
    """Where a port of the maker's own stands on a body, 4x4; see `standing_frame`.

    Raises
    ------
    DoesNotFit : its place is not on the surface.
    """
    return _frame(body, place, tube_radius_mm(parts), role)


def standing_lug_of(body: Solid, key: str, place: FittingSettings, allowance: Allowance) -> StandingLug:
    """A lug of the maker's own on a body; key of it for messages.

    Raises
    ------
    DoesNotFit : see `standing_frame` and `standing_lug`.
    """
    frame = _frame(body, place, half_span(place.lug, allowance), "lug")
    return standing_lug(body, place.lug, frame, allowance, key)


def _frame(body: Solid, place: FittingSettings, patch_mm: float, role: str) -> Floats:
    point = np.array([place.x_mm, place.y_mm, place.z_mm])
    return standing_frame(
        body.mesh, point, Aim(place.tilt_deg, place.turn_deg, place.roll_deg), patch_mm, role
    )


def _facts(ports: Sequence[StandingPort], lugs: Sequence[StandingLug]) -> tuple[FittingFacts, ...]:
    """Facts of all fittings for the report."""
    found = [
        FittingFacts(role=f"port {n}", place_mm=plain_point(port.placed.frame[:3, 3]), **vars(port.stand))
        for n, port in enumerate(ports, start=1)
    ]
    found += [
        FittingFacts(role=f"lug {n}", place_mm=plain_point(lug.point.frame[:3, 3]), wall_mm=lug.wall_mm)
        for n, lug in enumerate(lugs, start=1)
    ]
    return tuple(found)


def _hollow_told(whole: Solid, hollow_mm3: float) -> list[Remark]:
    if not hollow_mm3:
        return []
    text = f"A closed hollow of {hollow_mm3:.0f} mm3 in the {whole.role} was filled: nothing opens it."
    return [Remark("warning", text, Where(whole.role))]


def _told(
    ports: Sequence[StandingPort], lugs: Sequence[StandingLug], holders: Sequence[HolderParts | None]
) -> list[Remark]:
    """What is to be said of the parts, each text once, and of long bores and bosses that reach in."""
    found = [remark for port in ports for remark in port.placed.parts.remarks]
    found += [remark for lug in lugs for remark in lug.parts.remarks]
    found += [remark for holder in holders if holder is not None for remark in holder.remarks]
    for number, port in enumerate(ports, start=1):
        where = Where(f"port {number}", point=plain_point(port.placed.frame[:3, 3]), key=port.placed.key)
        stand = port.stand
        if stand.wall_mm > _LONG_MM:
            text = f"Port {number} is bored through {stand.wall_mm:.0f} mm: no hollow lies nearer behind it."
            found.append(Remark("warning", text, where))
        if stand.in_hollow_mm > 0.0:
            text = f"Port {number} reaches {stand.in_hollow_mm:.1f} mm into the hollow behind the wall."
            found.append(Remark("note", text, where))
        if stand.tube_mm > 1.0:
            text = (
                f"Port {number} stands {stand.tube_mm:.1f} mm off the lowest place of the surface under it, "
                "so that what it carries clears the rest."
            )
            found.append(Remark("note", text, where))
    return list({remark.text: remark for remark in found}.values())


def _overhang_told(body: Solid, joined: Joined, up: Floats, limit_deg: float) -> list[Remark]:
    """Area of bosses and lugs past the overhang limit as the whole prints, where it is worth a word."""
    mesh = joined.solid.mesh
    steep = np.flatnonzero(mesh.face_normals @ up < -np.sin(np.radians(limit_deg + 1.0)))
    heights = mesh.vertices @ up
    steep = steep[heights[mesh.faces[steep]].min(axis=1) > heights.min() + 0.05]
    if not len(steep):
        return []
    new = MeshDistance(body.mesh).to(mesh.corners[steep].mean(axis=1)) > _NEW_MM
    area = float(mesh.face_areas[steep[new]].sum())
    if area < _TOLD_MM2:
        return []
    text = (
        f"Bosses and lugs hang over by more than {limit_deg:g} degrees on {area:.0f} mm2 as the shape "
        "prints: they need supports there."
    )
    at = mesh.corners[steep[new]].mean(axis=1)[int(np.argmax(mesh.face_areas[steep[new]]))]
    return [Remark("warning", text, Where(joined.solid.role, point=plain_point(at)))]

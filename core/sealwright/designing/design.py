"""Recipe plus prepared scan give a design: solids, quad body and measurements."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np

from ..checks.fit import FitCheck, check_entry, check_fit, skin_near
from ..checks.wall import WallCheck, chamber_side, check_clearance, check_wall
from ..errors import Remark
from ..facepiece.body import Placed, chamber_void, crowded_lugs, meeting_lugs
from ..facepiece.contact_band import ContactBand
from ..facepiece.port_place import mouth_middle, port_frame
from ..facepiece.quick_tube import quick_tube
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell
from ..facepiece.side_port import side_port_frame
from ..facepiece.strap_points import StrapPoint, strap_points
from ..hardware.allowance import Allowance, allowance_of
from ..hardware.holder import HolderParts
from ..hardware.lugs import MERIDIANS, LugParts, make_lug
from ..hardware.ports import make_port
from ..mesh import Floats
from ..progress import Job, StageCache, Step, steps_within
from ..recipe import Recipe
from ..solids.boolean import Solid
from .body import build_body, require_uncut
from .fittings import hardware_parts, holder_stage, outside_parts, print_up, require_off_skin, require_room
from .prepared import Prepared
from .seal_and_shape import laid_out
from .shape import Shape, compared_overhang

# A port is the same on every face: the last ones are kept for the whole session.
_port = lru_cache(maxsize=8)(make_port)


@dataclass(frozen=True, eq=False)
class Design:
    """A finished design in the face frame, mm.

    Attributes
    ----------
    recipe, prepared : what it was made of.
    parts : name -> solid, printable; "body" or "tube" first.
    seal_line, band, shell : the facepiece before booleans (None for a tube).
    ports, straps : where things are.
    void : the chamber's air (None for a tube or a preview).
    fit, wall : measurements (None for a preview).
    facts : numbers for the report, units in the keys.
    remarks : what the maker should know.
    print_up : part -> direction (3,) in the face frame that points up on the bed; missing for parts whose
        way up is searched.
    shape, asked_port : what the solids were made of, and the first port where the recipe puts it (None for a
        tube).
    """

    recipe: Recipe
    prepared: Prepared
    parts: Mapping[str, Solid]
    seal_line: SealLine | None
    band: ContactBand | None
    shell: Shell | None
    ports: tuple[Placed, ...]
    straps: tuple[StrapPoint, ...]
    void: Solid | None
    fit: FitCheck | None
    wall: WallCheck | None
    facts: Mapping[str, Any]
    remarks: tuple[Remark, ...]
    print_up: Mapping[str, Floats] = field(default_factory=dict)
    shape: Shape | None = None
    asked_port: Placed | None = None

    def compared_overhang(self) -> dict[str, float]:
        """Area past the overhang limit with and without it, see `shape.compared_overhang`."""
        if self.shape is None or self.asked_port is None or self.seal_line is None:
            return {}
        return compared_overhang(self.shape, self.recipe, self.asked_port, self.seal_line)


def make_design(
    prepared: Prepared,
    recipe: Recipe,
    quality: str = "final",
    seal_points: Sequence[Sequence[float]] | None = None,
    cache: StageCache | None = None,
) -> Job[Design]:
    """Build a design, as a job of steps.

    Parameters
    ----------
    prepared : the wearer.
    recipe : the maker's decisions.
    quality : "preview" while a value is dragged (coarse, no checks), or "final".
    seal_points : control points (k, 3) in the face frame that replace the recipe's.
    cache : keeps stages between runs on the same prepared scan.

    Raises
    ------
    DesignError : any refusal of a stage; nothing is left behind.
    """
    cache = cache if cache is not None else StageCache()
    if recipe.kind == "tube":
        return (yield from _tube_design(prepared, recipe))
    return (yield from _body_design(prepared, recipe, quality, seal_points, cache))


def _tube_design(prepared: Prepared, recipe: Recipe) -> Job[Design]:
    yield Step(0.1, "Trimming the tube by the face")
    place = replace(recipe.ports[0], front_mm=12.0) if recipe.ports else None
    frame = np.eye(4)
    mouth = mouth_middle(prepared.landmarks)
    frame[:3, :3] = (
        port_frame(mouth, place)[:3, :3] if place else np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0.0]])
    )
    frame[:3, 3] = mouth
    solid, rim = quick_tube(prepared.face, frame, recipe.tube)
    yield Step(0.8, "Measuring the tube")
    entry = check_entry(prepared.face, solid.mesh, recipe.tube.stand_off_mm)
    facts = {"volume_mm3": solid.volume, "rim_points": len(rim), "entry_mm": entry.deepest_mm}
    return Design(
        recipe, prepared, {"tube": solid}, None, None, None, (), (), None, None, None, facts, prepared.remarks
    )


def _body_design(
    prepared: Prepared,
    recipe: Recipe,
    quality: str,
    seal_points: Sequence[Sequence[float]] | None,
    cache: StageCache,
) -> Job[Design]:
    face, allowance = prepared.face, allowance_of(recipe.allowance)
    yield Step(0.02, "Building ports")
    asked = _port_stage(prepared, recipe, allowance)
    laying = laid_out(prepared, recipe, asked, quality, seal_points, cache)
    line, shape = yield from steps_within(laying, 0.04, 0.4)
    band, shell, ports = shape.band, shape.shell, [shape.port]
    yield Step(0.4, "Adding ports and lugs")
    # The chamber side does not depend on the wall's thickness.
    inside = (band, shape.wall, shape.port.frame.tobytes())
    void = cache.get("chamber", inside, lambda: chamber_void(face, shell, ports[0]))
    straps, lugs = _lug_stage(shell, recipe, allowance, shape.port, cache)
    ports = [*ports, *_side_port_stage(prepared, recipe, shell, allowance)]
    placed_lugs = list(zip(lugs, straps, strict=True))
    yield Step(0.5, "Building the body")
    off = recipe.band.stand_off_mm
    built = build_body(face, shape, ports, placed_lugs, off, cache)
    parts = {"body": built.body}
    holders: list[HolderParts | None] = []
    if quality == "final":
        require_uncut(face, shell, built)
        yield Step(0.7, "Building the holder")
        holders = holder_stage(recipe, ports, allowance)
        parts |= hardware_parts(recipe, ports, holders)
        require_room(ports, holders, built.shell, placed_lugs)
        outside = outside_parts(ports, holders)
        frames = tuple(placed.frame.tobytes() for placed in ports)
        key = (face, frames, recipe.ports, recipe.holder, allowance)
        cache.get("off the skin", key, lambda: require_off_skin(face, outside))
    yield Step(0.85, "Measuring")
    fit = thickness = None
    facts: dict[str, Any] = {"seal_line_length_mm": line.length_mm, "dead_space_ml": void.volume / 1000.0}
    facts |= shape.facts
    if quality == "final":
        near_band = cache.get("skin near", band, lambda: skin_near(face, band.grid.reshape(-1, 3)))
        fit = cache.get(
            "fit",
            (line, band, built.on_skin, off),
            lambda: check_fit(face, line, band, built.on_skin.mesh, off, near_band),
        )
        side = cache.get("chamber side", inside, lambda: chamber_side(shell))
        thickness = check_wall(shell, recipe.chamber.wall_mm, side)
        near, _ = cache.get(
            "clearance found",
            (*inside, recipe.chamber.clearance_mm),
            lambda: check_clearance(prepared.nose_and_lips, shell, recipe.chamber.clearance_mm),
        )
        entry = check_entry(face, built.body.mesh, off, near_band)
        facts |= fit.facts() | thickness.facts()
        facts |= {"clearance_nose_lips_mm": near, "entry_mm": entry.deepest_mm}
    remarks = [*prepared.remarks, *shape.remarks, *ports[0].parts.remarks]
    remarks += _once([remark for lug in lugs for remark in lug.remarks])
    remarks += [*meeting_lugs(placed_lugs, built.lugs), *crowded_lugs(placed_lugs, ports)]
    for placed in ports[1:]:
        remarks += placed.parts.remarks
    for holder in [holder for holder in holders if holder is not None][:1]:
        remarks += holder.remarks
        facts["holder"] = holder.facts
    facts["ports"] = [placed.parts.facts for placed in ports]
    facts["lug"] = lugs[0].facts if lugs else {}
    return Design(
        recipe,
        prepared,
        parts,
        line,
        band,
        shell,
        tuple(ports),
        tuple(straps),
        void,
        fit,
        thickness,
        facts,
        tuple(remarks),
        print_up(ports, holders),
        shape,
        asked,
    )


def _once(remarks: Sequence[Remark]) -> list[Remark]:
    """Remarks of parts that are alike, each text once."""
    return list({remark.text: remark for remark in remarks}.values())


def _port_stage(prepared: Prepared, recipe: Recipe, allowance: Allowance) -> Placed:
    """The first port, which the chamber wall runs into, where the recipe puts it."""
    place = recipe.ports[0]
    frame = port_frame(mouth_middle(prepared.landmarks), place)
    return Placed(_port(place.connection, allowance), frame)


def _side_port_stage(prepared: Prepared, recipe: Recipe, shell: Shell, allowance: Allowance) -> list[Placed]:
    """Further ports, each standing on the wall where its axis leaves the chamber."""
    mouth = mouth_middle(prepared.landmarks)
    placed = []
    for number, place in enumerate(recipe.ports[1:], start=1):
        parts = _port(place.connection, allowance)
        aim = port_frame(mouth, replace(place, front_mm=12.0))
        placed.append(Placed(parts, side_port_frame(shell, aim, parts, number + 1)))
    return placed


def _lug_stage(
    shell: Shell,
    recipe: Recipe,
    allowance: Allowance,
    port: Placed,
    cache: StageCache,
    meridians: int = MERIDIANS,
) -> tuple[list[StrapPoint], list[LugParts]]:
    """Places and lugs; each root follows the wall under it."""
    points = strap_points(shell, recipe.straps, port.frame[:3, 2], allowance)
    lug = recipe.straps.lug
    lugs = [
        cache.get(
            f"lug {number} of {meridians}",
            (lug, allowance, point.wall),
            partial(make_lug, lug, allowance, point.wall, meridians),
        )
        for number, point in enumerate(points)
    ]
    return points, lugs

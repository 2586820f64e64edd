"""From seal line to shell: band, place of the first port, chamber wall, each stage kept by its inputs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .errors import Remark, Where
from .facepiece.body import Placed
from .facepiece.chamber_wall import ChamberWall, chamber_wall
from .facepiece.clearance_field import ClearanceField
from .facepiece.contact_band import ContactBand, contact_band
from .facepiece.overhang import PrintDown, overhang_deg, overhang_mm2, print_down
from .facepiece.port_place import PortPlaceSettings
from .facepiece.seal_line import SealLine
from .facepiece.shell import Shell, make_shell
from .mesh import Floats
from .prepared import Prepared
from .progress import Job, StageCache, Step
from .recipe import Recipe

QUALITY = {"preview": (96, 3.0), "final": (192, 1.8)}  # stations round the line, distance between rows in mm

_OVERLAP_MM = 0.8  # how far the wall reaches into the port boss
_BELOW_LIMIT_DEG = 0.5  # the wall keeps this much under the limit: the fairing leaves a few tenths
_BEND_MM = 1.0  # height over the flattest wall that the bend from the fillet into it takes at least
_STEEP_DEG = 5.0  # past the limit by this much is worth a remark
_STEEP_MM2 = 20.0


@dataclass(frozen=True, eq=False)
class Shape:
    """A facepiece before any solid.

    Attributes
    ----------
    band, wall, shell : its surfaces.
    port : the first port where it stands, which may be further out than asked.
    down : how the body prints; None when overhang is free.
    field : where the wall may be.
    facts : numbers for the report, units in the keys.
    remarks : what the maker should know.
    """

    band: ContactBand
    wall: ChamberWall
    shell: Shell
    port: Placed
    down: PrintDown | None
    field: ClearanceField
    facts: dict[str, float]
    remarks: tuple[Remark, ...]


def shape_job(
    prepared: Prepared, recipe: Recipe, line: SealLine, port: Placed, quality: str, cache: StageCache
) -> Job[Shape]:
    """Shape a facepiece along a seal line, as a job of steps.

    Parameters
    ----------
    prepared, recipe : the wearer and the maker's decisions.
    line : the seal line.
    port : the first port where the recipe puts it.
    quality : "preview" or "final".
    cache : keeps stages between runs.

    Raises
    ------
    DesignError : any refusal of a stage.
    """
    yield Step(0.1, "Laying the contact band")
    band, field = _band_stage(prepared, recipe, line, port, quality, cache)
    yield Step(0.4, "Fairing the chamber wall")
    place = recipe.ports[0]
    further = _further_out(band, field, port, recipe) if place.front == "auto" else 0.0
    stands = replace(port, frame=_moved(port.frame, further))
    down = _down(stands, recipe)
    wall = _wall_stage(band, field, stands, recipe, down, quality, cache)
    shell = make_shell(band, wall, recipe.chamber.wall_mm, line.sigma_stations, down)
    facts = {
        "port_front_mm": place.front_mm + further,
        "chamber_fairing_residual_mm": wall.sheet.residual_mm,
    }
    remarks = [*_front_remarks(place, further), *_slope_remarks(shell, down)]
    return Shape(band, wall, shell, stands, down, field, facts, tuple(remarks))


def compared_overhang(shape: Shape, recipe: Recipe, port: Placed, line: SealLine) -> dict[str, float]:
    """Area of the facepiece past the overhang limit, mm2, as it is and as it would be without the limit.

    Parameters
    ----------
    shape : the facepiece.
    recipe : the maker's decisions.
    port : the first port where the recipe puts it.
    line : the seal line.
    """
    down = _print_down(port, recipe)
    free = chamber_wall(
        shape.band,
        port.frame,
        port.parts.seat_radius_mm,
        _OVERLAP_MM,
        recipe.chamber,
        QUALITY["preview"][1],
        shape.field,
    )
    plain = make_shell(shape.band, free, recipe.chamber.wall_mm, line.sigma_stations)
    return {
        "overhang_mm2_limited": _overhang(shape.shell, down),
        "overhang_mm2_free": _overhang(plain, down),
    }


def _print_down(port: Placed, recipe: Recipe) -> PrintDown:
    limit = recipe.chamber.overhang_deg - _BELOW_LIMIT_DEG
    return print_down(port.frame, port.parts.seat_radius_mm, limit)


def _down(port: Placed, recipe: Recipe) -> PrintDown | None:
    return _print_down(port, recipe) if recipe.chamber.overhang == "limit" else None


def _moved(frame: Floats, further_mm: float) -> Floats:
    moved = frame.copy()
    moved[:3, 3] += further_mm * frame[:3, 2]
    return moved


def _band_stage(
    prepared: Prepared, recipe: Recipe, line: SealLine, port: Placed, quality: str, cache: StageCache
) -> tuple[ContactBand, ClearanceField]:
    """The band, and the clearance that the wall keeps from the skin inside of it."""
    face, chamber, row, down = prepared.face, recipe.chamber, QUALITY[quality][1], _down(port, recipe)
    key = (line, recipe.band, chamber.fillet_mm, chamber.leave_deg, row, down)
    band = cache.get(
        "band",
        key,
        lambda: contact_band(face, line, recipe.band, chamber.fillet_mm, chamber.leave_deg, row, down),
    )
    inner = band.grid[:, np.flatnonzero(band.contact)[-1]]
    field = cache.get(
        "clearance",
        (line, recipe.band, chamber.clearance_mm, chamber.fillet_mm, chamber.leave_deg),
        lambda: ClearanceField(face, chamber.clearance_mm, inner, chamber.fillet_mm, chamber.leave_deg),
    )
    return band, field


def _further_out(band: ContactBand, field: ClearanceField, port: Placed, recipe: Recipe) -> float:
    """How much further out the port must stand for a wall that clears the face and prints, mm."""
    down = _down(port, recipe)
    if down is None:
        return 0.0
    fillet = _BEND_MM - float(down.room_mm(band.grid[:, -1]).min())
    return max(field.lacks_room_mm(down), fillet, 0.0)


def _wall_stage(
    band: ContactBand,
    field: ClearanceField,
    port: Placed,
    recipe: Recipe,
    down: PrintDown | None,
    quality: str,
    cache: StageCache,
) -> ChamberWall:
    throat, row = port.parts.seat_radius_mm, QUALITY[quality][1]
    key = (band, field, port.frame.tobytes(), throat, down, row)
    return cache.get(
        "wall",
        key,
        lambda: chamber_wall(band, port.frame, throat, _OVERLAP_MM, recipe.chamber, row, field, down),
    )


def _overhang(shell: Shell, down: PrintDown) -> float:
    """Area past the limit of the rim and both sides; the trimmed contact rows look up in the print."""
    outer = np.concatenate([shell.edge[:, ::-1], shell.outer_side], axis=1)
    inner = shell.face_side[:, np.flatnonzero(shell.contact)[-1] :]
    return overhang_mm2(outer, inner, down)


def _front_remarks(place: PortPlaceSettings, further_mm: float) -> list[Remark]:
    if further_mm <= 0.0:
        return []
    text = (
        f"The port stands {place.front_mm + further_mm:.1f} mm in front of the lips instead of "
        f"{place.front_mm:.1f}: only then a wall clears the face and prints without supports. A higher port "
        "(raise_mm), less clearance or a larger overhang limit bring it nearer."
    )
    return [Remark("note", text, Where("port", key="recipe.ports[0].front_mm"))]


def _slope_remarks(shell: Shell, down: PrintDown | None) -> list[Remark]:
    """Says where the wall stays steeper than asked."""
    if down is None:
        return []
    steep = overhang_deg(shell.outer_side, down)
    limit = down.limit_deg + _BELOW_LIMIT_DEG
    area = overhang_mm2(shell.outer_side, shell.outer_side, down, _BELOW_LIMIT_DEG + _STEEP_DEG)
    if area < _STEEP_MM2:
        return []
    station, row = np.unravel_index(int(np.argmax(steep)), steep.shape)
    x, y, z = shell.outer_side[station, row]
    text = (
        f"{area:.0f} mm2 of the body hang over by up to {steep.max():.0f} degrees; the limit is "
        f"{limit:.0f} degrees."
    )
    where = Where("chamber wall", point=(float(x), float(y), float(z)), key="recipe.ports[0].front_mm")
    return [Remark("warning", f"{text} Let the port stand further out, or higher.", where)]

"""From seal line to shell: band, place of the first port, chamber wall, each stage kept by its inputs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..cushion.settings import cushion_of
from ..errors import Folds, Remark, Where
from ..facepiece.band_ends import Fillet
from ..facepiece.body import Placed
from ..facepiece.chamber_wall import ChamberWall, Throat, chamber_wall
from ..facepiece.clearance_field import ClearanceField
from ..facepiece.contact_band import BandSettings, ContactBand, contact_band
from ..facepiece.overhang import PrintDown, overhang_deg, overhang_mm2, print_down
from ..facepiece.port_place import PortPlaceSettings
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, make_shell, require_unfolded
from ..progress import Job, Step
from ..recipe import Recipe
from .context import QUALITIES, Context

_BELOW_LIMIT_DEG = 0.8  # the wall keeps this much under the limit: the fairing leaves a few tenths
_BEND_MM = 1.0  # height over the flattest wall that the bend from the fillet into it takes at least
_STEEP_DEG = 5.0  # past the limit by this much is worth a remark
_STEEP_MM2 = 20.0


@dataclass(frozen=True, kw_only=True)
class ShapeFacts:
    """Numbers of a shape for the report.

    Attributes
    ----------
    port_front_mm : from the closed lips to where the first port's boss begins.
    fairing_residual_mm : how far the fairing of the wall was from rest when it was stopped.
    """

    port_front_mm: float
    fairing_residual_mm: float | None


@dataclass(frozen=True, eq=False, kw_only=True)
class Shape:
    """A facepiece before any solid.

    Attributes
    ----------
    band, wall, shell : its surfaces.
    port : the first port where it stands, which may be further out than asked.
    down : how the body prints; None when overhang is free.
    field : where the wall may be.
    facts : numbers for the report.
    remarks : what the maker should know.
    """

    band: ContactBand
    wall: ChamberWall
    shell: Shell
    port: Placed
    down: PrintDown | None
    field: ClearanceField
    facts: ShapeFacts
    remarks: tuple[Remark, ...]


def shape_job(context: Context, line: SealLine, port: Placed) -> Job[Shape]:
    """Shape a facepiece along a seal line, as a job of steps.

    Parameters
    ----------
    context : wearer, recipe, quality.
    line : the seal line.
    port : the first port where the recipe puts it.

    Raises
    ------
    DesignError : any refusal of a stage.
    """
    recipe = context.recipe
    yield Step(0.1, "Laying the contact band")
    band = _band_stage(context, line, port, "as asked")
    field = _field_stage(context, band)
    place, further = recipe.ports[0], 0.0
    if place.further_out and recipe.chamber.overhang == "limit":
        further = max(field.lacks_room_mm(_print_down(port, recipe)), 0.0)
        # The fillets end as steeply as the port, there, lets them.
        band = _band_stage(context, line, _further(port, further))
        short = _BEND_MM - _print_down(_further(port, further), recipe).room_mm(band.grid[:, -1]).min()
        further += max(float(short), 0.0)
    yield Step(0.4, "Fairing the chamber wall")
    stands = _further(port, further)
    wall, shell, folds = _sound_shell(context, line, band, field, stands)
    down = _down(stands, recipe)
    facts = ShapeFacts(port_front_mm=place.front_mm + further, fairing_residual_mm=wall.sheet.residual_mm)
    remarks = [*_front_remarks(place, further), *folds, *_slope_remarks(shell, down)]
    return Shape(
        band=band,
        wall=wall,
        shell=shell,
        port=stands,
        down=down,
        field=field,
        facts=facts,
        remarks=tuple(remarks),
    )


def _band_stage(context: Context, line: SealLine, port: Placed, copy: str = "") -> ContactBand:
    """The band whose fillets suit a port; ``copy`` keeps the one for the asked port beside the final one."""
    recipe, row = context.recipe, context.quality.band_row_mm
    fillet = Fillet(recipe.chamber.fillet_mm, recipe.chamber.leave_deg, _down(port, recipe))
    band = seated_band(recipe)
    return context.cache.call_as(copy, contact_band, context.prepared.face, line, band, fillet, row)


def seated_band(recipe: Recipe) -> BandSettings:
    """The hard band as it is made: it stands off by what is left of the cushion when that is seated.

    Raises
    ------
    BadRecipe : the cushion's material is not of its kind.
    """
    stand_off = recipe.band.stand_off_mm + cushion_of(recipe.cushion).seated_mm
    return replace(recipe.band, stand_off_mm=stand_off)


def _field_stage(context: Context, band: ContactBand) -> ClearanceField:
    """The clearance that the wall keeps from the skin inside the band."""
    face, chamber = context.prepared.face, context.recipe.chamber
    fillet, leave = chamber.fillet_mm, chamber.leave_deg
    return context.cache.call(ClearanceField, face, chamber.clearance_mm, band.inner_end, fillet, leave)


def _sound_shell(
    context: Context, line: SealLine, band: ContactBand, field: ClearanceField, port: Placed
) -> tuple[ChamberWall, Shell, list[Remark]]:
    """Wall and shell; where filling the rim or limiting the slope would fold the shell, they are left out.

    Raises
    ------
    Folds : the shell folds even then.
    """
    left_out: Folds | None = None
    down, row = _down(port, context.recipe), context.quality.wall_row_mm
    for limit, fill in ((down, down), (down, None), (None, None)):
        wall = context.cache.call(chamber_wall, band, _throat(port), field, row, limit)
        shell = make_shell(band, wall, context.recipe.chamber.wall_mm, line.sigma_stations, fill)
        try:
            require_unfolded(shell)
        except Folds as fold:
            left_out = fold
            continue
        if left_out is None:
            return wall, shell, []
        what = "the fill under the rim" if limit is down else "the overhang limit and the fill under the rim"
        text = f"With all limits the body would fold. Left out: {what}. Print it with supports."
        return wall, shell, [Remark("warning", text, left_out.where)]
    raise left_out or Folds("The shell folds.", "chamber wall", "Move the seal line.")


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
    free = chamber_wall(shape.band, _throat(port), shape.field, QUALITIES["preview"].wall_row_mm)
    plain = make_shell(shape.band, free, recipe.chamber.wall_mm, line.sigma_stations)
    return {
        "overhang_limited_mm2": _overhang(shape.shell, down),
        "overhang_free_mm2": _overhang(plain, down),
    }


def _print_down(port: Placed, recipe: Recipe) -> PrintDown:
    limit = recipe.printer.overhang_limit_deg - _BELOW_LIMIT_DEG
    return print_down(port.frame, port.parts.seat_radius_mm, limit)


def _down(port: Placed, recipe: Recipe) -> PrintDown | None:
    return _print_down(port, recipe) if recipe.chamber.overhang == "limit" else None


def _further(port: Placed, further_mm: float) -> Placed:
    """A port that stands further out along its axis."""
    frame = port.frame.copy()
    frame[:3, 3] += further_mm * frame[:3, 2]
    return replace(port, frame=frame)


def _throat(port: Placed) -> Throat:
    """Where the wall ends in a port."""
    return Throat(port.frame, port.parts.seat_radius_mm)


def _overhang(shell: Shell, down: PrintDown) -> float:
    """Area past the limit of the rim and both sides; the trimmed contact rows look up in the print."""
    outer = np.concatenate([shell.edge[:, ::-1], shell.outer_side], axis=1)
    return overhang_mm2(outer, shell.chamber_side, down)


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

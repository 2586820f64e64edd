"""From seal line to shell: band, place of the first port, chamber wall, each stage kept by its inputs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import DoesNotFit, Remark, Where
from ..facepiece.body import Placed
from ..facepiece.chamber_wall import ChamberWall, chamber_wall
from ..facepiece.clearance_field import ClearanceField
from ..facepiece.contact_band import ContactBand, contact_band
from ..facepiece.overhang import PrintDown, overhang_deg, overhang_mm2, print_down
from ..facepiece.port_place import PortPlaceSettings
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, make_shell, require_unfolded
from ..progress import Job, StageCache, Step
from ..recipe import Recipe
from .prepared import Prepared


@dataclass(frozen=True)
class Density:
    """How densely a facepiece is laid out.

    Attributes
    ----------
    stations : round the seal line.
    band_row_mm, wall_row_mm : distance between the rows of the band and of the wall, which is fair and bends
        little: chords of 2.4 mm lie within 0.03 mm of a radius of 25 mm.
    """

    stations: int
    band_row_mm: float
    wall_row_mm: float


QUALITY = {"preview": Density(96, 3.0, 3.0), "final": Density(192, 1.8, 2.4)}

_OVERLAP_MM = 0.8  # how far the wall reaches into the port boss
_BELOW_LIMIT_DEG = 0.8  # the wall keeps this much under the limit: the fairing leaves a few tenths
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
    band = _band_stage(prepared, recipe, line, port, quality, cache, "band as asked")
    field = _field_stage(prepared, recipe, line, band, quality, cache)
    place, further = recipe.ports[0], 0.0
    if place.further_out and recipe.chamber.overhang == "limit":
        further = max(field.lacks_room_mm(_print_down(port, recipe)), 0.0)
        # The fillets end as steeply as the port, there, lets them.
        band = _band_stage(prepared, recipe, line, _further(port, further), quality, cache)
        short = _BEND_MM - _print_down(_further(port, further), recipe).room_mm(band.grid[:, -1]).min()
        further += max(float(short), 0.0)
    yield Step(0.4, "Fairing the chamber wall")
    stands = _further(port, further)
    down = _down(stands, recipe)
    wall, shell, folds = _sound_shell(band, field, stands, recipe, line, down, quality, cache)
    facts = {
        "port_front_mm": place.front_mm + further,
        "chamber_fairing_residual_mm": wall.sheet.residual_mm,
    }
    remarks = [*_front_remarks(place, further), *folds, *_slope_remarks(shell, down)]
    return Shape(band, wall, shell, stands, down, field, facts, tuple(remarks))


def _sound_shell(
    band: ContactBand,
    field: ClearanceField,
    port: Placed,
    recipe: Recipe,
    line: SealLine,
    down: PrintDown | None,
    quality: str,
    cache: StageCache,
) -> tuple[ChamberWall, Shell, list[Remark]]:
    """Wall and shell; where filling the rim or limiting the slope would fold the shell, they are left out.

    Raises
    ------
    DoesNotFit : the shell folds even then.
    """
    left_out: DoesNotFit | None = None
    for limit, fill in ((down, down), (down, None), (None, None)):
        wall = _wall_stage(band, field, port, recipe, limit, quality, cache)
        shell = make_shell(band, wall, recipe.chamber.wall_mm, line.sigma_stations, fill)
        try:
            require_unfolded(shell)
        except DoesNotFit as fold:
            left_out = fold
            continue
        if left_out is None:
            return wall, shell, []
        what = "the fill under the rim" if limit is down else "the overhang limit and the fill under the rim"
        text = f"With all limits the body would fold. Left out: {what}. Print it with supports."
        return wall, shell, [Remark("warning", text, left_out.where)]
    raise left_out or DoesNotFit("The shell folds.", "chamber wall", "Move the seal line.")


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
        QUALITY["preview"].wall_row_mm,
        shape.field,
    )
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


def _band_stage(
    prepared: Prepared,
    recipe: Recipe,
    line: SealLine,
    port: Placed,
    quality: str,
    cache: StageCache,
    stage: str = "band",
) -> ContactBand:
    """The band whose fillets suit a port; ``stage`` keeps the one for the asked port beside the final one."""
    chamber, row, down = recipe.chamber, QUALITY[quality].band_row_mm, _down(port, recipe)
    key = (line, recipe.band, chamber.fillet_mm, chamber.leave_deg, row, down)

    def compute() -> ContactBand:
        return contact_band(prepared.face, line, recipe.band, chamber.fillet_mm, chamber.leave_deg, row, down)

    return cache.get(stage, key, compute)


def _field_stage(
    prepared: Prepared, recipe: Recipe, line: SealLine, band: ContactBand, quality: str, cache: StageCache
) -> ClearanceField:
    """The clearance that the wall keeps from the skin inside the band."""
    chamber = recipe.chamber
    key = (line, recipe.band, chamber.clearance_mm, chamber.fillet_mm, chamber.leave_deg, quality)
    inner = band.grid[:, np.flatnonzero(band.contact)[-1]]

    def compute() -> ClearanceField:
        return ClearanceField(
            prepared.face, chamber.clearance_mm, inner, chamber.fillet_mm, chamber.leave_deg
        )

    return cache.get("clearance", key, compute)


def _wall_stage(
    band: ContactBand,
    field: ClearanceField,
    port: Placed,
    recipe: Recipe,
    down: PrintDown | None,
    quality: str,
    cache: StageCache,
) -> ChamberWall:
    throat, row = port.parts.seat_radius_mm, QUALITY[quality].wall_row_mm
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

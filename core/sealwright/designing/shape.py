"""From seal line to shell: band, place of the first port, chamber wall, each stage kept by its inputs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from ..checks.wall import check_clearance, clear_side, lacking_clearance
from ..cushion.settings import cushion_of
from ..errors import DesignError, DoesNotFit, Folds, Remark, TooNear, Where, plain_point
from ..facepiece.band_ends import Fillet
from ..facepiece.body import Placed
from ..facepiece.chamber_cage import OuterForm, cage_of, cage_on, wall_from_cage
from ..facepiece.chamber_wall import ChamberWall, Throat, chamber_wall
from ..facepiece.clearance_field import ClearanceField
from ..facepiece.contact_band import BandSettings, ContactBand, ended_band, laid_strip, require_over_skin
from ..facepiece.overhang import PrintDown
from ..facepiece.port_place import PortPlaceSettings, aimed, mouth_middle, port_frame
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, make_shell, require_unfolded
from ..hardware.cap import CAP_ROLE
from ..hardware.holder_layout import holder_layout
from ..mesh import Floats, TriMesh
from ..progress import Job, Step
from ..recipe import Recipe
from ..recipe.decisions import holder_on
from .context import Context
from .nearest_port import Around, Hung, further_mm, ranked_places, skin_points
from .wall_overhang import print_down_in, slope_remarks
from .way_up import keeps_limit

_BEND_MM = 1.0  # height over the flattest wall that the bend from the fillet into it takes at least
_BULGE_ROUNDS = 4
_OFF_HOLDER_MM = 0.5  # between wall and holder or cap
_FILL_MM = 1.0  # a fill under the rim may thicken the body by so much before the holder
_FILLET_ROWS = 3  # the clearance has these from the band: they are no matter of the wall
_ROUNDS = 6  # of asking for the clearance that is lacking
_SHORT_MM = 0.1  # less than this is not lacking
_SLACK_MM = 0.2  # what may be lacking of the clearance in the end: about a layer of the print


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


def shape_job(context: Context, line: SealLine, port: Placed, may_sink: bool = False) -> Job[Shape]:
    """Shape a facepiece along a seal line, as a job of steps.

    Parameters
    ----------
    context : wearer, recipe, quality.
    line : the seal line.
    port : the first port where the recipe puts it.
    may_sink : whether a band is borne whose edge the trimming takes away somewhere.

    Raises
    ------
    DesignError : any refusal of a stage.
    """
    recipe = context.recipe
    yield Step(0.1, "Laying the contact band")
    band = _band_stage(context, line, port, "as asked")
    if not may_sink:
        context.cache.call(require_over_skin, context.prepared.face, band, line.sigma_stations)
    field = _field_stage(context, band.inner_end, recipe.chamber.clearance_mm)
    around, hung = _around(context, band, field), _hung(context, port)
    yield Step(0.4, "Fairing the chamber wall")
    asked = recipe.ports[0]
    try:
        return _first_sound(context, line, port, (around, hung), asked)
    except (Folds, TooNear) as refusal:
        if not asked.further_out:
            _require_further_out(context, line, port, (around, hung), refusal)
        raise


def _first_sound(
    context: Context, line: SealLine, port: Placed, near: tuple[Around, Hung], asked: PortPlaceSettings
) -> Shape:
    """The facepiece for the best place of the first port that gives a sound one, with all limits or without.

    Raises
    ------
    Folds, TooNear : none does.
    """
    (around, hung), refused = near, None
    for whole, place in product((True, False), ranked_places(asked, around, hung)):
        aimed_port = replace(port, frame=port_frame(around.mouth, place))
        try:
            return _cleared(context, line, _Aim(place, aimed_port, around, hung, whole))
        except (Folds, TooNear) as refusal:
            refused = refused or refusal
    raise refused or Folds("The wall folds.", "chamber wall", "Move the seal line.")


def _require_further_out(
    context: Context, line: SealLine, port: Placed, near: tuple[Around, Hung], why: DesignError
) -> None:
    """Refuse a port that is kept where no wall is sound, when there is one further out.

    Raises
    ------
    DoesNotFit : there is one; it is said how far out it stands.
    """
    asked = context.recipe.ports[0]
    try:
        shape = _first_sound(context, line, port, near, replace(asked, further_out=True))
    except (Folds, TooNear):
        return
    raise DoesNotFit(
        f"With the port kept {asked.front_mm:.0f} mm in front of the lips there is no sound wall: {why.what}",
        replace(why.where, key="recipe.ports[0].further_out"),
        f"Let it stand further out: then it stands {shape.facts.port_front_mm:.1f} mm in front of them.",
    )


@dataclass(frozen=True, eq=False)
class _Aim:
    """A first port as it is tried.

    Attributes
    ----------
    place, port : where it shall stand, and its parts there.
    around, hung : what it keeps clear of, and what hangs on it.
    whole : whether a shell that folds with all its limits is refused; else limits are left out.
    """

    place: PortPlaceSettings
    port: Placed
    around: Around
    hung: Hung
    whole: bool


def _cleared(context: Context, line: SealLine, aim: _Aim) -> Shape:
    """The facepiece for a port as aimed with the clearance that is asked.

    Fairing and overhang limit draw the wall a little into the allowed distance; what is lacking is asked for
    on top until it is there. Where the band's fillet itself leans nearer to the nose, the wall cannot help.

    Raises
    ------
    Folds : it folds.
    TooNear : the clearance is not reached within `_SLACK_MM`.
    """
    asked, skin = context.recipe.chamber.clearance_mm, context.prepared.nose_and_lips
    for _ in range(_ROUNDS):
        shape = _shaped(context, line, aim)
        side = clear_side(shape.shell)[:, _FILLET_ROWS:]
        got = check_clearance(skin, shape.band.inner_end, side, asked)
        if got.nearest_mm > asked - _SHORT_MM or not len(skin):
            return shape
        places, lacking = lacking_clearance(skin, shape.band.inner_end, side, asked + _SHORT_MM)
        if not len(places):  # nearer to a triangle than to all points that are asked for
            break
        aim = replace(aim, around=replace(aim.around, field=aim.around.field.enlarged(places, lacking)))
    if got.nearest_mm >= asked - _SLACK_MM:
        return shape
    raise TooNear(
        f"The wall comes within {got.nearest_mm:.1f} mm of the skin; a clearance of {asked:.1f} mm is asked.",
        Where("chamber wall", point=plain_point(got.point), key="recipe.chamber.clearance_mm"),
        f"Ask {max(got.nearest_mm, 2.0):.1f} mm or less, or let the port stand further out.",
    )


def _shaped(context: Context, line: SealLine, aim: _Aim) -> Shape:
    """The facepiece for a port as aimed.

    Raises
    ------
    Folds : it folds.
    """
    recipe, place, port, around, hung = context.recipe, aim.place, aim.port, aim.around, aim.hung
    further = context.out_mm + (further_mm(port.frame, around, hung) if place.further_out else 0.0)
    # The fillets end as steeply as the port, where it stands, lets them.
    band = _band_stage(context, line, _further(port, further))
    if place.further_out:
        further += further_mm(_further(port, further).frame, replace(around, ends=band.grid[:, -1]), hung)
    stands = _further(port, further)
    wall, shell, folds = _sound_shell(context, line, band, stands, aim)
    for _ in range(_BULGE_ROUNDS):
        if not place.further_out:
            break
        # A wall that bulges out before its port, as over a low chin, would meet what is put on it.
        meets = hung.needs_mm(stands.frame, shell.outer_side.reshape(-1, 3), _OFF_HOLDER_MM)
        if meets <= 0.0:
            break
        further += meets
        stands = _further(port, further)
        wall, shell, folds = _sound_shell(context, line, band, stands, aim)
    down = _down(stands, recipe)
    facts = ShapeFacts(port_front_mm=place.front_mm + further, fairing_residual_mm=wall.sheet.residual_mm)
    told = [] if context.out_mm else _front_remarks(place, further)
    remarks = [*told, *folds, *slope_remarks(shell, down), *_pushed_told(wall)]
    return Shape(
        band=band,
        wall=wall,
        shell=shell,
        port=stands,
        down=down,
        field=around.field,
        facts=facts,
        remarks=tuple(remarks),
    )


def _around(context: Context, band: ContactBand, field: ClearanceField) -> Around:
    """What the first port has to keep clear of."""
    mouth = mouth_middle(context.prepared.landmarks)
    skin = context.cache.call(skin_points, context.prepared.face)
    rim = band.grid.reshape(-1, 3)
    return Around(field=field, inner=band.inner_end, ends=band.grid[:, -1], skin=skin, rim=rim, mouth=mouth)


def _hung(context: Context, port: Placed) -> Hung:
    """Throat, limit and holder of the first port."""
    recipe = context.recipe
    settings, holder = holder_on(recipe, 0), None
    if settings is not None:
        holder = holder_layout(settings, recipe.ports[0].connection, context.allowance)
    limit = _down(port, recipe)
    put_on = [extra.mesh.bounds for extra in port.parts.extra if extra.role == CAP_ROLE]
    if port.parts.reaches_in:  # the way of a cartridge
        put_on = [port.parts.keep_clear.mesh.bounds]
    return Hung(
        throat_mm=port.parts.seat_radius_mm,
        limit_deg=None if limit is None else limit.limit_deg,
        bend_mm=_BEND_MM,
        body_mm=recipe.chamber.wall_mm + _FILL_MM,
        holder=holder,
        put_on=(float(put_on[0][1, 0]), float(put_on[0][0, 2])) if put_on else None,
        stands_mm=port.parts.length_mm,
    )


def _band_stage(context: Context, line: SealLine, port: Placed, copy: str = "") -> ContactBand:
    """The band whose fillets suit a port; ``copy`` keeps the one for the asked port beside the final one."""
    recipe, row = context.recipe, context.quality.band_row_mm
    fillet = Fillet(recipe.chamber.fillet_mm, recipe.chamber.leave_deg, _down(port, recipe))
    band = seated_band(recipe)
    shaped = None if context.surface is None else context.surface.shaped_mm
    laid = context.cache.call(laid_strip, context.prepared.face, line, band, row, shaped)
    return context.cache.call_as(copy, ended_band, laid, band, fillet)


def seated_band(recipe: Recipe) -> BandSettings:
    """The hard band as it is made: it stands off by what is left of the cushion when that is seated.

    Raises
    ------
    BadRecipe : the cushion's material is not of its kind.
    """
    stand_off = recipe.band.stand_off_mm + cushion_of(recipe.cushion).seated_mm
    return replace(recipe.band, stand_off_mm=stand_off)


def _field_stage(context: Context, inner: Floats, clearance_mm: float) -> ClearanceField:
    """The clearance that the wall keeps from the skin inside the band."""
    face, chamber = context.prepared.face, context.recipe.chamber
    fillet, leave = chamber.fillet_mm, chamber.leave_deg
    return context.cache.call(ClearanceField, face, clearance_mm, inner, fillet, leave)


def _sound_shell(
    context: Context, line: SealLine, band: ContactBand, port: Placed, aim: _Aim
) -> tuple[ChamberWall, Shell, list[Remark]]:
    """Wall and shell, drawn to the skin unless that folds them; then without what folds them, where allowed.

    Raises
    ------
    Folds : the shell folds even then.
    """
    refused: Folds | None = None
    down, row = _down(port, context.recipe), context.quality.wall_row_mm
    ways = [_Way(down, down, "")]  # the maker's own form keeps no limit, but for the fill under the rim
    if context.form is None:
        ways.insert(0, _Way(down, down, "", drawn=True))
    if not aim.whole:
        ways.append(_Way(down, None, "the fill under the rim"))
        ways.append(_Way(None, None, "the overhang limit and the fill under the rim"))
    for way in ways:
        if context.form is not None:
            wall = _formed(context, band, port, aim)
        else:
            wall = context.cache.call(
                chamber_wall, band, throat_in(port), aim.around.field, row, way.limit, way.drawn
            )
        shell = make_shell(band, wall, context.recipe.chamber.wall_mm, line.sigma_stations, way.fill)
        try:
            require_unfolded(shell)
        except Folds as fold:
            refused = fold
            if context.form is not None:
                refused.also("Smooth the cage there.")
            continue
        if refused is None or not way.without:
            return wall, shell, []
        text = f"With all limits the body would fold. Left out: {way.without}. Print it with supports."
        return wall, shell, [Remark("warning", text, refused.where)]
    raise refused or Folds("The shell folds.", "chamber wall", "Move the seal line.")


def _formed(context: Context, band: ContactBand, port: Placed, aim: _Aim) -> ChamberWall:
    """The wall of the maker's form.

    Raises
    ------
    DoesNotFit : the form is not star-shaped, or lies deep in the clearance.
    """
    form, field, wall_mm = context.form, aim.around.field, context.recipe.chamber.wall_mm
    row = context.quality.wall_row_mm
    if isinstance(form, TriMesh):
        down = _down(port, context.recipe)
        own = context.cache.call(chamber_wall, band, throat_in(port), field, row, down, True)
        like = context.cache.call(cage_of, own, wall_mm)
        form = context.cache.call(cage_on, form, like, field.centre)
    if form is None:
        raise TypeError("no form is given")
    outer = OuterForm(form, wall_mm)
    return context.cache.call(wall_from_cage, outer, band, throat_in(port), field, row)


@dataclass(frozen=True)
class _Way:
    """One way to make wall and shell: overhang limit of either, what is left out, and whether it is drawn."""

    limit: PrintDown | None
    fill: PrintDown | None
    without: str
    drawn: bool = False


def _down(port: Placed, recipe: Recipe) -> PrintDown | None:
    return print_down_in(port, recipe) if keeps_limit(recipe) else None


def _further(port: Placed, further_mm: float) -> Placed:
    """A port that stands further out along its axis."""
    frame = port.frame.copy()
    frame[:3, 3] += further_mm * frame[:3, 2]
    return replace(port, frame=frame)


def throat_in(port: Placed) -> Throat:
    """Where the wall ends in a port."""
    return Throat(port.frame, port.parts.seat_radius_mm)


def _front_remarks(place: PortPlaceSettings, further_mm: float) -> list[Remark]:
    if further_mm <= 0.0:
        return []
    tilt, up = aimed(place)
    text = (
        f"The port stands {place.front_mm + further_mm:.1f} mm in front of the lips, tilted {tilt:.0f} "
        f"degrees down and {up:+.0f} mm above the line between them: only from there on the wall clears the "
        "face and prints without supports, and the holder keeps off the skin. Less clearance or a larger "
        "overhang limit bring it nearer."
    )
    return [Remark("note", text, Where("port", key="recipe.ports[0].front_mm"))]


def _pushed_told(wall: ChamberWall) -> list[Remark]:
    """Says how far a cage gave way to the clearance."""
    if wall.pushed_mm < _SHORT_MM:
        return []
    text = (
        f"The cage was pushed out by {wall.pushed_mm:.1f} mm at most: the clearance to nose and lips is kept."
    )
    where = Where("chamber cage", point=wall.pushed_at, key="recipe.chamber.clearance_mm")
    return [Remark("warning", text, where)]

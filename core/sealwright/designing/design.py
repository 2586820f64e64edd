"""Recipe plus prepared scan give a design: one sequence of stages, of which the quality leaves some out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..checks.fit import EntryCheck, FitCheck, check_entry
from ..checks.own_shape import OwnShapeCheck
from ..checks.wall import ClearanceCheck, WallCheck
from ..cushion.made import CushionMade
from ..errors import BadRecipe, DesignError, Remark, Where
from ..face.stand_off import StandOff
from ..facepiece.body import Placed, crowded_lugs, meeting_lugs
from ..facepiece.contact_band import ContactBand
from ..facepiece.quick_tube import quick_tube
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell
from ..facepiece.strap_points import StrapPoint
from ..hardware.holder import HolderParts
from ..hardware.lugs import LugParts
from ..mesh import Floats, TriMesh
from ..progress import Job, Step, steps_within
from ..recipe import Recipe
from ..solids.boolean import Solid
from ..stage_cache import StageCache
from .body import Built, build_body, require_uncut
from .chamber_air import air_stage
from .compared_overhang import ComparedOverhang, compared_overhang
from .context import ChamberForm, Context, Points, QualityName, context_of
from .cushioning import cushion_stage, cushion_up
from .doubts import name_doubts
from .exhalation import sketched_valve
from .fittings import print_up
from .making_way import Fitted, Laid, laid_steps
from .mask_fittings import MaskFitted, mask_fittings
from .prepared import Prepared
from .shape import Shape
from .shaped_surface import ShapedSurface
from .stages import (
    Measured,
    hardware_stage,
    measure_stage,
    port_stage,
    tube_frame,
)
from .way_up import body_up, require_way, way_of


@dataclass(frozen=True, eq=False, kw_only=True)
class Design:
    """A finished design in the face frame, mm.

    Attributes
    ----------
    recipe, prepared : what it was made of.
    parts : name -> solid, printable; "body", "tube", "shell" or "trimmed" first; none in a sketch.
    seal_line, band, shell : the facepiece before booleans (None for a tube).
    ports, straps : where things are.
    void : the chamber's air (None for a tube or a sketch).
    chamber_ml : its volume; in a sketch, which has no solids, by rays (None for a tube).
    fit, wall, entry, clearance : measurements (None unless the quality is "final"; a tube has its entry).
    holders : in the order of the ports.
    lug : the first lug; None without any.
    webbing : the strap in each lug, in the lug's frame, for checks.
    remarks : what the maker should know.
    print_up : part -> direction (3,) in the face frame that points up on the bed; missing for parts whose
        way up is searched.
    cushion : what is made for the cushion; None without one, and unless the quality is "final".
    seal_points : control points (k, 3) that replaced the recipe's; None where the recipe's were kept.
    own : what was measured of a shape of the maker's own; None for all else.
    form : the maker's outer form of the chamber that was used; None where the program chose it.
    more_holes : through-holes that lugs and cuts of the maker's own add to the body of a mask.
    edited : names of the parts that a hand has changed since they were built.
    surface : how the contact surface was shaped for even pressure; None where that was not asked.
    shape, asked_port : what the solids were made of, and the first port where the recipe puts it (None for a
        tube).
    """

    recipe: Recipe
    prepared: Prepared
    parts: Mapping[str, Solid] = field(default_factory=dict)
    seal_line: SealLine | None = None
    band: ContactBand | None = None
    shell: Shell | None = None
    ports: tuple[Placed, ...] = ()
    straps: tuple[StrapPoint, ...] = ()
    void: Solid | None = None
    chamber_ml: float | None = None
    fit: FitCheck | None = None
    wall: WallCheck | None = None
    entry: EntryCheck | None = None
    clearance: ClearanceCheck | None = None
    holders: tuple[HolderParts, ...] = ()
    lug: LugParts | None = None
    webbing: tuple[Solid, ...] = ()
    remarks: tuple[Remark, ...] = ()
    print_up: Mapping[str, Floats] = field(default_factory=dict)
    cushion: CushionMade | None = None
    shape: Shape | None = None
    asked_port: Placed | None = None
    seal_points: Points | None = None
    own: OwnShapeCheck | None = None
    edited: tuple[str, ...] = ()
    surface: ShapedSurface | None = None
    form: ChamberForm | None = None
    more_holes: int = 0

    @property
    def main(self) -> str:
        """Name of the part that all else stands or hangs on; "body" of a sketch, which has none."""
        return next(iter(self.parts), "body")

    @property
    def holder(self) -> HolderParts | None:
        """The first holder, None without any."""
        return self.holders[0] if self.holders else None

    def compared_overhang(self) -> ComparedOverhang | None:
        """Area past the overhang limit with and without it; None without a facepiece."""
        if self.shape is None or self.asked_port is None or self.seal_line is None:
            return None
        return compared_overhang(self.shape, self.recipe, self.asked_port, self.seal_line)


def make_design(
    prepared: Prepared,
    recipe: Recipe,
    quality: QualityName = "final",
    seal_points: Points | None = None,
    cache: StageCache | None = None,
    surface: ShapedSurface | None = None,
    form: ChamberForm | None = None,
    cutters: Sequence[TriMesh] = (),
) -> Job[Design]:
    """Build a design, as a job of steps.

    Parameters
    ----------
    prepared : the wearer.
    recipe : the maker's decisions.
    quality : "sketch" (seal line, band, wall and strap places, no solids), "preview" (coarse solids, no
        hardware, no checks), or "final"; see `context.QUALITIES`.
    seal_points : control points (k, 3) in the face frame that replace the recipe's.
    cache : keeps stages between runs on the same prepared scan.
    surface : how the contact surface is shaped; None leaves it even, whatever the recipe asks: see
        `predict.designed`, which chooses it.
    form : the maker's outer form of the chamber, see `facepiece.chamber_cage`; None lets the program choose.
    cutters : closed meshes that are cut out of the body, face frame, mm; only in the final quality.

    Raises
    ------
    DesignError : any refusal of a stage; nothing is left behind.
    """
    laid = context_of(prepared, recipe, quality, seal_points, cache)
    context = replace(laid, surface=surface, form=form, cutters=cutters)
    if (recipe.fittings or cutters) and recipe.kind == "tube":
        raise no_place_for_fittings(recipe.kind)
    if form is not None and recipe.kind != "body":
        raise BadRecipe(
            f"The recipe is of a {recipe.kind}, which has no chamber to take the form of.",
            Where("recipe", key="recipe.kind"),
            "Set kind to body, or leave the cage out.",
        )
    if recipe.kind == "tube":
        return (yield from _tube_design(context))
    if recipe.kind != "body":
        raise no_drawing(recipe.kind)
    try:
        return (yield from _mask_design(context))
    except DesignError as refusal:
        name_doubts(refusal, prepared)
        raise


def no_place_for_fittings(kind: str) -> BadRecipe:
    """The refusal of fittings and cuts on a design that is only a trial."""
    return BadRecipe(
        f"Fittings and cuts are for masks, shells and trimmed models; the recipe is of a {kind}.",
        Where("recipe", key="recipe.fittings"),
        "Leave them out, or set kind to body.",
    )


def no_drawing(kind: str) -> BadRecipe:
    """The refusal of a shape of the maker's own that nobody has drawn or modelled."""
    return BadRecipe(
        f"The recipe is of a {kind}, and nothing is given to make it of.",
        Where("recipe", key="recipe.kind"),
        "Use sealwright shell with --outline or sealwright trim with a mesh, or set kind to body.",
    )


def _tube_design(context: Context) -> Job[Design]:
    """A plain tube up to the face, without a band."""
    prepared, recipe = context.prepared, context.recipe
    yield Step(0.1, "Trimming the tube by the face")
    solid, _rim = quick_tube(prepared.face, tube_frame(context), recipe.tube)
    yield Step(0.8, "Measuring the tube")
    entry = check_entry(prepared.face, solid.mesh, StandOff(recipe.tube.stand_off_mm))
    return Design(
        recipe=recipe, prepared=prepared, parts={"tube": solid}, entry=entry, remarks=prepared.remarks
    )


def _mask_design(context: Context) -> Job[Design]:
    """The sequence: port, line and shape, straps, lugs, ports, valve, air, body, hardware, measuring."""
    require_way(context.recipe)
    yield Step(0.02, "Building ports")
    asked = port_stage(context)
    laid = yield from steps_within(laid_steps(context, asked), 0.04, 0.45)
    yield Step(0.45, "Measuring the chamber's air")
    shape = laid.shape
    void, air_ml = air_stage(context, shape.shell)
    design = Design(
        recipe=context.recipe,
        prepared=context.prepared,
        seal_line=laid.line,
        band=shape.band,
        shell=shape.shell,
        ports=(shape.port, *([] if context.quality.solids else sketched_valve(context, shape))),
        straps=tuple(laid.straps),
        void=void,
        chamber_ml=air_ml,
        remarks=(*context.prepared.remarks, *shape.remarks, *shape.port.parts.remarks),
        shape=shape,
        asked_port=asked,
        seal_points=context.seal_points,
        surface=context.surface,
        form=context.form,
    )
    return design if laid.found is None else (yield from _built(context, design, laid, laid.found))


def _built(context: Context, design: Design, laid: Laid, found: Fitted) -> Job[Design]:
    """A laid-out design with its solids; in the final quality with its hardware, and measured."""
    line, shape = laid.line, laid.shape
    standing, lugs = found.standing, [lug for lug, _ in found.standing]
    ports = (shape.port, *found.ports, *found.valves)
    yield Step(0.5, "Building the body")
    built = build_body(context, shape, ports, standing)
    parts: dict[str, Solid] = {"body": built.body}
    holders: list[HolderParts | None] = []
    measured: Measured | None = None
    cushion: CushionMade | None = None
    fitted = MaskFitted(built=built)
    if context.quality.complete:
        require_uncut(context.prepared.face, shape.shell, built)
        yield Step(0.65, "Standing ports and lugs of your own")
        fitted = mask_fittings(context, shape, built, ports)
        built, ports = fitted.built, (*ports, *fitted.ports)
        yield Step(0.7, "Building the holder")
        holders, hardware = hardware_stage(context, ports, [*standing, *fitted.standing], built)
        parts |= hardware
        yield Step(0.85, "Measuring")
        measured = measure_stage(context, line, shape, built)
        yield Step(0.95, "Making the cushion")
        cushion, parts["body"] = cushion_stage(context, shape, built)
        if cushion is not None and cushion.worn is not None and cushion.cushion.kind == "liner":
            parts["liner"] = cushion.worn
    held = tuple(holder for holder in holders if holder is not None)
    return replace(
        design,
        parts=parts,
        ports=ports,
        straps=tuple(place for _, place in standing),
        fit=measured.fit if measured else None,
        wall=measured.wall if measured else None,
        entry=measured.entry if measured else None,
        clearance=measured.clearance if measured else None,
        cushion=cushion,
        holders=held,
        lug=lugs[0] if lugs else None,
        webbing=tuple(lug.webbing for lug in lugs),
        remarks=(*design.remarks, *found.told, *fitted.told, *_part_remarks(ports, standing, built, held)),
        more_holes=fitted.more_holes,
        print_up={
            **print_up(ports, holders),
            **cushion_up(context, cushion),
            "body": body_up(way_of(context.recipe), ports[0].frame, shape.band),
        },
    )


def _part_remarks(
    ports: Sequence[Placed],
    standing: Sequence[tuple[LugParts, StrapPoint]],
    built: Built,
    held: Sequence[HolderParts],
) -> list[Remark]:
    """What is to be said of lugs, further ports and the holder; of parts that are alike each text once."""
    of_lugs = [remark for lug, _ in standing for remark in lug.remarks]
    remarks = list({remark.text: remark for remark in of_lugs}.values())
    remarks += [*meeting_lugs(standing, built.lugs), *crowded_lugs(standing, ports)]
    for placed in ports[1:]:
        remarks += placed.parts.remarks
    of_holders = [remark for holder in held for remark in holder.remarks]
    return remarks + list({remark.text: remark for remark in of_holders}.values())

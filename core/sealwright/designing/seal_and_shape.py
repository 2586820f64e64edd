"""The seal line and the facepiece along it; where the band would fold, the line is smoothed further."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import BandFolds, BandSinks, DesignError, Folds, OffTheScan, Remark
from ..face.surface import FaceSurface
from ..facepiece.band_room import Reach, trusted_skin, with_room
from ..facepiece.body import Placed
from ..facepiece.line_features import too_near
from ..facepiece.line_on_skin import LineAsked, Places, line_on_skin, usual_line
from ..facepiece.line_words import NO_SKIN, Usual, missing_on_usual
from ..facepiece.seal_line import SealLine, SealLineSettings, line_through
from ..mesh import Floats
from ..progress import Job, Step, steps_within
from .context import Context
from .prepared import Prepared
from .shape import Shape, shape_job

_SMOOTHER = (1.0, 1.6, 2.4)  # times the asked smoothing, as far as a band folds on the line before
# Whether the line is searched off the folds so far, and whether the band is narrower there.
_ROUND_FOLDS = ((True, False), (True, False), (False, True), (True, True), (True, True))
_BESIDE_MM, _SCANNED_SHARE = 12.0, 0.9  # a fold is beside a gap where less of the skin so near was scanned
_OWN_LINE = 2  # so many of them for a line through the maker's points, which is not bent far from them


def seal_and_shape_steps(context: Context, port: Placed) -> Job[tuple[SealLine, Shape]]:
    """Seal line and facepiece, as a job of steps.

    Parameters
    ----------
    context : wearer, recipe, quality.
    port : the first port where the recipe puts it.

    Raises
    ------
    Folds : the band folds however smooth the line is; the message is that of the line as asked.
    OffTheScan : no line has skin; or the band folds where skin is missing.
    DesignError : any refusal of a stage.
    """
    tried = _Tried()
    asked = context.recipe.seal_line
    own = context.seal_points is not None or bool(asked.control_points)
    for factor in _SMOOTHER[: _OWN_LINE if own else None]:
        yield Step(0.0, "Drawing the seal line")
        line = line_stage(context, replace(asked, smoothing_mm=factor * asked.smoothing_mm))
        try:
            shape = yield from steps_within(shape_job(context, line, port), 0.1, 1.0)
        except Folds as fold:
            if not isinstance(fold, BandFolds) and not line.remarks:  # a wall on a line as usual
                raise
            tried.folded(line, fold)
            continue
        if tried.first is None:
            return line, _told(shape, line.remarks)
        return line, _told(shape, (*line.remarks, _smoother(asked.smoothing_mm, factor, tried.first)))
    try:
        if own:
            raise tried.refusal
        return (yield from _round_the_fold(context, port, tried))
    except DesignError:
        if tried.sunk is None:
            raise
    return (yield from _sunk(context, port, *tried.sunk))


@dataclass
class _Tried:
    """What was tried: the first line and why it folds, and the first whose band only sinks in."""

    line: SealLine | None = None
    first: Folds | None = None
    sunk: tuple[SealLine, BandSinks] | None = None

    def folded(self, line: SealLine, fold: Folds) -> None:
        """Remember a line on which the body folds."""
        if self.first is None:
            self.line, self.first = line, fold
        if self.sunk is None and isinstance(fold, BandSinks):
            self.sunk = line, fold

    @property
    def refusal(self) -> Folds:
        """The refusal of the line as asked."""
        return self.first or BandFolds("The band folds.", "contact band", "Move the seal line.")


def _sunk(context: Context, port: Placed, line: SealLine, why: BandSinks) -> Job[tuple[SealLine, Shape]]:
    """The facepiece on a line whose band loses some of its edge, where no other line is better."""
    shape = yield from steps_within(shape_job(context, line, port, may_sink=True), 0.1, 1.0)
    text = f"{why.what} Its edge is missing there, and the band is narrower."
    return line, _told(shape, (*line.remarks, Remark("warning", text, why.where)))


def _told(shape: Shape, remarks: tuple[Remark, ...]) -> Shape:
    """The shape with what is to be said of its line."""
    return replace(shape, remarks=(*remarks, *shape.remarks))


def _round_the_fold(context: Context, port: Placed, tried: _Tried) -> Job[tuple[SealLine, Shape]]:
    """Seal line and facepiece where the band folds on every smoothing: off the fold, or narrower there.

    Raises
    ------
    Folds : it folds there too; the message is that of the line as asked.
    OffTheScan : no other line has skin, and it folds beside skin that was not scanned.
    """
    folds: Places = ()
    fold = refused = tried.refusal
    bare: OffTheScan | None = None
    for off, narrow in _ROUND_FOLDS:
        if fold.where.point is not None:
            folds = (*folds, fold.where.point)
        yield Step(0.0, "Searching a seal line off the fold")
        asked = (context.recipe.seal_line, folds if off else (), folds if narrow else ())
        try:
            line = line_stage(context, *asked)
            shape = yield from steps_within(shape_job(context, line, port), 0.1, 1.0)
        except Folds as again:
            tried.folded(line, again)
            fold = again
            continue
        except OffTheScan as missing:
            bare = bare or missing
            continue
        except DesignError:  # no such line: what is told is why the band folds on the one as asked
            continue
        return line, _told(shape, line.remarks)
    if not isinstance(refused, BandFolds):  # the wall folds: no matter of the line's skin
        raise refused
    if bare is not None and _beside_a_gap(context.prepared.face, refused):
        raise bare
    raise _missing_skin(context, tried.line) or refused


def _missing_skin(context: Context, line: SealLine | None) -> OffTheScan | None:
    """The refusal that names what the usual line lacks, or else a searched one; None where nothing is."""
    prepared, reach = context.prepared, context.recipe.band.reach
    asked = LineAsked(context.recipe.seal_line, context.quality.stations, reach)
    usual = usual_line(prepared.face, prepared.landmarks, asked)
    if usual.line is None and line is not None and line.remarks:
        usual = Usual(line, NO_SKIN)
    return missing_on_usual(prepared.face, prepared.landmarks, reach, usual)


def _beside_a_gap(face: FaceSurface, fold: Folds) -> bool:
    """Whether a fold lies beside skin that was not scanned."""
    if fold.where.point is None:
        return False
    near = np.linalg.norm(face.points - np.array(fold.where.point), axis=-1) < _BESIDE_MM
    return bool(near.any() and trusted_skin(face)[near].mean() < _SCANNED_SHARE)


def _smoother(asked_mm: float, factor: float, fold: Folds) -> Remark:
    """Says that the line runs smoother than asked, and where it had to."""
    text = (
        f"The seal line is smoothed over {factor * asked_mm:.0f} mm instead of {asked_mm:.0f}: else the band "
        "would fold. Look at its way there, or move its points."
    )
    return Remark("warning", text, replace(fold.where, key="recipe.seal_line.smoothing_mm"))


def line_stage(
    context: Context, settings: SealLineSettings, avoid: Places = (), narrow: Places = ()
) -> SealLine:
    """The seal line, proposed or through the maker's points, clear of lips, nostrils and eyelids.

    Parameters
    ----------
    context : wearer, recipe, quality.
    settings : of the line, which may be smoother than the recipe's.
    avoid, narrow : places that a proposed band keeps off, or is narrow at; see `LineAsked`.
    """
    prepared, stations, reach = context.prepared, context.quality.stations, context.recipe.band.reach
    if context.seal_points is None:
        asked = LineAsked(settings, stations, reach, avoid, narrow)
        return context.cache.call(line_on_skin, prepared.face, prepared.landmarks, asked)
    own = np.array(context.seal_points, dtype=np.float64)
    return context.cache.call(_through, prepared, own, stations, settings.smoothing_mm, reach)


def _through(
    prepared: Prepared, points: Floats, stations: int, smoothing_mm: float, reach: Reach
) -> SealLine:
    control = prepared.face.drop_on_skin(points)
    line = line_through(prepared.face, control, stations, smoothing_mm)
    near = too_near(line.points, prepared.landmarks)
    if near is not None:
        raise near.refusal(line.points)
    return with_room(prepared.face, line, reach, prepared.face.known)

"""The seal line and the facepiece along it; where the band would fold, the line is smoothed further."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..errors import BandFolds, Remark, SealLineCrossing, Where
from ..facepiece.body import Placed
from ..facepiece.seal_line import SealLine, SealLineSettings, line_through
from ..facepiece.seal_line_proposal import seal_line
from ..limits import line_distance_mm
from ..mesh import Floats
from ..progress import Job, Step, steps_within
from .context import Context
from .prepared import Prepared
from .shape import Shape, shape_job

_SMOOTHER = (1.0, 1.6, 2.4)  # times the asked smoothing, as far as a band folds on the line before
_OWN_LINE = 2  # so many of them for a line through the maker's points, which is not bent far from them


def seal_and_shape_steps(context: Context, port: Placed) -> Job[tuple[SealLine, Shape]]:
    """Seal line and facepiece, as a job of steps.

    Parameters
    ----------
    context : wearer, recipe, quality.
    port : the first port where the recipe puts it.

    Raises
    ------
    BandFolds : the band folds however smooth the line is; the message is that of the line as asked.
    DesignError : any refusal of a stage.
    """
    refused: BandFolds | None = None
    asked = context.recipe.seal_line
    own = context.seal_points is not None or bool(asked.control_points)
    for factor in _SMOOTHER[: _OWN_LINE if own else None]:
        tried = replace(asked, smoothing_mm=factor * asked.smoothing_mm)
        yield Step(0.0, "Drawing the seal line")
        line = line_stage(context, tried)
        try:
            shape = yield from steps_within(shape_job(context, line, port), 0.1, 1.0)
        except BandFolds as fold:
            refused = refused or fold
            continue
        if refused is None:
            return line, shape
        smoother = _smoother(asked.smoothing_mm, factor, refused)
        return line, replace(shape, remarks=(smoother, *shape.remarks))
    raise refused or BandFolds("The band folds.", "contact band", "Move the seal line.")


def _smoother(asked_mm: float, factor: float, fold: BandFolds) -> Remark:
    """Says that the line runs smoother than asked, and where it had to."""
    text = (
        f"The seal line is smoothed over {factor * asked_mm:.0f} mm instead of {asked_mm:.0f}: else the band "
        "would fold. Look at its way there, or move its points."
    )
    return Remark("warning", text, replace(fold.where, key="recipe.seal_line.smoothing_mm"))


def line_stage(context: Context, settings: SealLineSettings) -> SealLine:
    """The seal line, proposed or through the maker's points, clear of lips, nostrils and eyelids."""
    prepared, stations = context.prepared, context.quality.stations
    if context.seal_points is None:
        return context.cache.call(_proposed, prepared, settings, stations, context.recipe.band.inner_mm)
    own = np.array(context.seal_points, dtype=np.float64)
    return context.cache.call(_through, prepared, own, stations, settings.smoothing_mm)


def _proposed(prepared: Prepared, settings: SealLineSettings, stations: int, inner_mm: float) -> SealLine:
    line = seal_line(prepared.face, prepared.landmarks, settings, stations, inner_mm)
    _require_clear_of_features(line, prepared.landmarks)
    return line


def _through(prepared: Prepared, points: Floats, stations: int, smoothing_mm: float) -> SealLine:
    control = prepared.face.drop_on_skin(points)
    line = line_through(prepared.face, control, stations, smoothing_mm)
    _require_clear_of_features(line, prepared.landmarks)
    return line


def _require_clear_of_features(line: SealLine, landmarks: Mapping[str, Floats]) -> None:
    """Refuse a seal line that crosses lips, nostrils or eyelids."""
    for name, point in landmarks.items():
        least = line_distance_mm(name)
        if least is None:
            continue
        distance = np.linalg.norm(line.points - point, axis=1)
        worst = int(np.argmin(distance))
        if distance[worst] < least:
            x, y, z = line.points[worst]
            raise SealLineCrossing(
                f"The seal line passes {distance[worst]:.1f} mm from {name}; it needs {least:.0f} mm.",
                Where("seal line", point=(float(x), float(y), float(z)), indices=(worst,)),
                f"Move the seal line away from {name}, or correct that landmark.",
            )

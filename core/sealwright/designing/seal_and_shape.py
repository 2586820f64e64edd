"""The seal line and the facepiece along it; where the band would fold, the line is smoothed further."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..errors import DoesNotFit, Remark, SealLineCrossing, Where
from ..facepiece.body import Placed
from ..facepiece.seal_line import SealLine, line_through
from ..facepiece.seal_line_proposal import seal_line
from ..mesh import Floats
from ..progress import Job, StageCache, Step, steps_within
from ..recipe import Recipe
from .prepared import Prepared
from .shape import QUALITY, Shape, shape_job

_SMOOTHER = (1.0, 1.6, 2.4)  # times the asked smoothing, as far as a band folds on the line before
_OWN_LINE = 2  # so many of them for a line through the maker's points, which is not bent far from them


def laid_out(
    prepared: Prepared,
    recipe: Recipe,
    port: Placed,
    quality: str,
    seal_points: Sequence[Sequence[float]] | None,
    cache: StageCache,
) -> Job[tuple[SealLine, Shape]]:
    """Seal line and facepiece, as a job of steps.

    Parameters
    ----------
    prepared, recipe : the wearer and the maker's decisions.
    port : the first port where the recipe puts it.
    quality : "preview" or "final".
    seal_points : control points (k, 3) in the face frame that replace the recipe's.
    cache : keeps stages between runs.

    Raises
    ------
    DoesNotFit : the band folds however smooth the line is; the message is that of the line as asked.
    DesignError : any refusal of a stage.
    """
    refused: DoesNotFit | None = None
    own = seal_points is not None or bool(recipe.seal_line.control_points)
    for factor in _SMOOTHER[: _OWN_LINE if own else None]:
        asked = recipe.seal_line.smoothing_mm
        tried = replace(recipe, seal_line=replace(recipe.seal_line, smoothing_mm=factor * asked))
        yield Step(0.0, "Drawing the seal line")
        line = line_stage(prepared, tried, quality, seal_points, cache)
        try:
            shape = yield from steps_within(shape_job(prepared, tried, line, port, quality, cache), 0.1, 1.0)
        except DoesNotFit as fold:
            if fold.where.role != "contact band":
                raise
            refused = refused or fold
            continue
        if refused is None:
            return line, shape
        return line, replace(shape, remarks=(_smoother(asked, factor, refused), *shape.remarks))
    raise refused or DoesNotFit("The band folds.", "contact band", "Move the seal line.")


def _smoother(asked_mm: float, factor: float, fold: DoesNotFit) -> Remark:
    """Says that the line runs smoother than asked, and where it had to."""
    text = (
        f"The seal line is smoothed over {factor * asked_mm:.0f} mm instead of {asked_mm:.0f}: else the band "
        "would fold. Look at its way there, or move its points."
    )
    return Remark("warning", text, replace(fold.where, key="recipe.seal_line.smoothing_mm"))


def line_stage(
    prepared: Prepared,
    recipe: Recipe,
    quality: str,
    seal_points: Sequence[Sequence[float]] | None,
    cache: StageCache,
) -> SealLine:
    """The seal line, proposed or through the maker's points, clear of lips, nostrils and eyelids."""
    stations = QUALITY[quality].stations
    own = tuple(tuple(float(c) for c in p) for p in seal_points) if seal_points is not None else None
    key = (prepared, recipe.seal_line, recipe.band.inner_mm, own, stations)

    def compute() -> SealLine:
        if own is None:
            line = seal_line(
                prepared.face, prepared.landmarks, recipe.seal_line, stations, recipe.band.inner_mm
            )
        else:
            control = prepared.face.drop_on_skin(np.array(own))
            line = line_through(prepared.face, control, stations, recipe.seal_line.smoothing_mm)
        _require_clear_of_features(line, prepared.landmarks)
        return line

    return cache.get("seal line", key, compute)


def _require_clear_of_features(line: SealLine, landmarks: Mapping[str, Floats]) -> None:
    """Refuse a seal line that crosses lips, nostrils or eyelids."""
    limits = {"cheilion": 8.0, "alare": 3.0, "endocanthion": 6.0, "subnasale": 12.0, "pronasale": 8.0}
    for name, point in landmarks.items():
        limit = limits.get(name.removesuffix("_left").removesuffix("_right"))
        if limit is None:
            continue
        distance = np.linalg.norm(line.points - point, axis=1)
        worst = int(np.argmin(distance))
        if distance[worst] < limit:
            x, y, z = line.points[worst]
            raise SealLineCrossing(
                f"The seal line passes {distance[worst]:.1f} mm from {name}; it needs {limit:.0f} mm.",
                Where("seal line", point=(float(x), float(y), float(z)), indices=(worst,)),
                f"Move the seal line away from {name}, or correct that landmark.",
            )

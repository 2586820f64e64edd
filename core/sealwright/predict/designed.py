"""Recipe plus prepared scan give a design whose contact surface is shaped where the recipe asks for it."""

from __future__ import annotations

from dataclasses import replace

from ..designing.context import ChamberForm, OwnShape, Points, QualityName
from ..designing.design import Design, make_design
from ..designing.prepared import Prepared
from ..designing.shaped_surface import ShapedSurface
from ..designing.sketch import sketch
from ..progress import Job, Step, steps_within, with_steps
from ..recipe import Recipe, with_values
from ..stage_cache import StageCache
from .shaping import shaping_steps

_SHAPING = "Shaping the contact surface"


def design(
    prepared: Prepared,
    recipe: Recipe,
    quality: QualityName = "final",
    seal_points: Points | None = None,
    cache: StageCache | None = None,
    own: OwnShape | None = None,
) -> Job[Design]:
    """Build a design, as a job of steps; a sketch has an even surface.

    Parameters
    ----------
    prepared, recipe, quality, seal_points, cache : as for `make_design`.
    own : what the maker shaped of it.

    Raises
    ------
    DesignError : any refusal of a stage; nothing is left behind.
    """
    own = own or OwnShape()
    form, cutters = own.form, own.cutters
    if recipe.kind != "body" or not recipe.contact_surface.shaped or quality == "sketch":
        return (yield from make_design(prepared, recipe, quality, seal_points, cache, None, form, cutters))
    kept = cache if cache is not None else StageCache()
    # What has no part in it is left out, so that editing it does not repeat the choice.
    plain = with_values(recipe, {"contact_surface.shaped": False})
    plain = replace(
        plain, title="", tube=Recipe().tube, shell=Recipe().shell, trim=Recipe().trim, fittings=()
    )
    choosing = kept.steps(chosen_surface, prepared, plain, seal_points, form)
    surface = yield from with_steps(choosing, lambda step: Step(0.3 * step.fraction, _SHAPING))
    making = make_design(prepared, recipe, quality, seal_points, kept, surface, form, cutters)
    return (yield from steps_within(making, 0.3, 1.0))


def chosen_surface(
    prepared: Prepared,
    recipe: Recipe,
    seal_points: Points | None = None,
    form: ChamberForm | None = None,
) -> Job[ShapedSurface]:
    """The contact surface that the draws choose, by a sketch with an even one, as a job of steps.

    Raises
    ------
    DesignError : any refusal of the sketch.
    """
    yield Step(0.0, _SHAPING)
    return (yield from shaping_steps(sketch(prepared, recipe, seal_points, form=form)))

"""A design without solids: line, band, wall and strap places only, fast enough for a search."""

from __future__ import annotations

from ..facepiece.quick_tube import no_band
from ..progress import run_to_end
from ..recipe import Recipe
from ..stage_cache import StageCache
from .context import ChamberForm, Points
from .design import Design, make_design
from .prepared import Prepared
from .shaped_surface import ShapedSurface


def sketch(
    prepared: Prepared,
    recipe: Recipe,
    seal_points: Points | None = None,
    cache: StageCache | None = None,
    surface: ShapedSurface | None = None,
    form: ChamberForm | None = None,
) -> Design:
    """A design in the quality "sketch": no parts, no measurements, but all that predictions need.

    Parameters
    ----------
    prepared, recipe, seal_points, cache, surface, form : as for `design.make_design`.

    Raises
    ------
    DoesNotFit : a tube; or a shell that folds over itself.
    DesignError : any refusal of a stage that takes part.
    """
    if recipe.kind == "tube":
        raise no_band()
    return run_to_end(make_design(prepared, recipe, "sketch", seal_points, cache, surface, form))

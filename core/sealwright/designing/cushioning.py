"""The stage that makes the cushion of a finished body."""

from __future__ import annotations

from ..cushion.band_face import band_face_of
from ..cushion.made import CushionMade, foam_made
from ..cushion.settings import cushion_of
from .body import Built
from .context import Context
from .shape import Shape


def cushion_stage(context: Context, shape: Shape, built: Built) -> CushionMade | None:
    """The foam strip that the recipe asks for; None for other kinds.

    Raises
    ------
    BadRecipe : the material is not of its kind.
    """
    cushion = cushion_of(context.recipe.cushion)
    if cushion.kind != "foam":
        return None
    return foam_made(cushion, band_face_of(shape.band, built.on_skin.mesh))

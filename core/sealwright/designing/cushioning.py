"""The stage that makes the cushion of a finished body."""

from __future__ import annotations

from ..cushion.band_face import band_face_of
from ..cushion.lip import lip_of
from ..cushion.made import CushionMade, foam_made, liner_made, lip_made
from ..cushion.settings import cushion_of
from ..solids.boolean import Solid
from .body import Built
from .context import Context
from .shape import Shape


def cushion_stage(context: Context, shape: Shape, built: Built) -> tuple[CushionMade | None, Solid]:
    """The cushion that the recipe asks for, None without one; and the body, with a groove for a liner.

    Raises
    ------
    BadRecipe : the material is not of its kind.
    DoesNotFit : a lip whose mould could not be opened.
    BadSolid, BooleanFailed : a part of it would not be sound.
    """
    cushion = cushion_of(context.recipe.cushion)
    if not cushion.there:
        return None, built.body
    face = band_face_of(shape.band, built.on_skin.mesh)
    if cushion.kind == "foam":
        return foam_made(cushion, face), built.body
    lip = lip_of(context.prepared.face, face, cushion, built.on_skin.mesh, cushion.kind == "lip")
    if cushion.kind == "lip":
        return lip_made(cushion, lip), built.body
    return liner_made(cushion, lip, built.body, context.recipe.band.thickness_mm)

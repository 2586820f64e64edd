"""The stage that makes the cushion of a finished body."""

from __future__ import annotations

from ..cushion.band_face import BandFace, band_face_of
from ..cushion.liner import liner_of
from ..cushion.lip import lip_of
from ..cushion.made import CushionMade, foam_made, liner_made, lip_made
from ..cushion.settings import Cushion, cushion_of
from ..errors import DesignError, DoesNotFit
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..mesh import Floats, TriMesh
from ..printing.orientation import best_orientations
from ..printing.printer import PrinterSettings
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
    lip_args = (context.prepared.face, face, cushion, built.on_skin.mesh)
    stand_off = shape.band.stand_off
    if cushion.kind == "lip":
        try:
            return lip_made(cushion, lip_of(*lip_args, stand_off=stand_off)), built.body
        except DoesNotFit as refusal:
            refusal.also(_liner_fits(context, lip_args, stand_off, built))
            raise
    lip = lip_of(*lip_args, cast=False, stand_off=stand_off)
    return liner_made(cushion, lip, built.body, context.recipe.band.thickness_mm)


def cushion_up(context: Context, made: CushionMade | None) -> dict[str, Floats]:
    """Which way up a printed liner prints; nothing of other cushions."""
    if made is None or made.worn is None or made.cushion.kind != "liner":
        return {}
    return {"liner": context.cache.call(_best_up, made.worn, context.recipe.printer)}


def _best_up(solid: Solid, printer: PrinterSettings) -> Floats:
    return best_orientations(solid, printer)[0].up


def _liner_fits(
    context: Context,
    lip_args: tuple[FaceSurface, BandFace, Cushion, TriMesh],
    stand_off: StandOff,
    built: Built,
) -> str:
    """Says that a printed liner, which needs no mould, can be made there; "" where none can."""
    try:
        liner_of(
            lip_of(*lip_args, cast=False, stand_off=stand_off), built.body, context.recipe.band.thickness_mm
        )
    except DesignError:
        return ""
    return "A printed liner, which needs no mould, can be made there (recipe.cushion.kind liner)."

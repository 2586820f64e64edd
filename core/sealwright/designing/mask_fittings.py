"""Ports, lugs and cuts of the maker on the body of a mask, beside those that the program places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import BadRecipe, Remark, Where, plain_point
from ..facepiece.body import Placed, band_face
from ..facepiece.strap_points import StrapPoint
from ..hardware.collisions import Room, require_free
from ..hardware.lugs import LugParts
from ..hardware.ports import make_port
from ..own_shapes.contact_lines import cut_by
from ..own_shapes.joining import cut, join, require_untouched, rooms_of
from ..own_shapes.modelled import modelled_solid
from ..own_shapes.standing_port import standing_port
from ..recipe.decisions import fittings_of
from .body import Built
from .context import Context
from .own_fittings import fitting_frame, standing_lug_of
from .shape import Shape

_OPEN = ("plain", "cone", "printed", "metric", "trapezoidal", "rd40")


@dataclass(frozen=True, eq=False, kw_only=True)
class MaskFitted:
    """A body with the maker's own fittings.

    Attributes
    ----------
    built : with the body as it is then.
    ports, standing : the fittings as they stand.
    more_holes : through-holes that lugs and cuts add to the body; each port adds one besides.
    told : what the maker should know.
    """

    built: Built
    ports: tuple[Placed, ...] = ()
    standing: tuple[tuple[LugParts, StrapPoint], ...] = ()
    more_holes: int = 0
    told: tuple[Remark, ...] = ()


def mask_fittings(context: Context, shape: Shape, built: Built, placed: Sequence[Placed]) -> MaskFitted:
    """Stand the recipe's fittings on a body and cut the maker's cutters out of it before.

    A port carries nothing: filter holders belong to the ports that the program places.

    Parameters
    ----------
    context : its recipe's fittings and its cutters are used.
    shape : the facepiece, whose contact band must stay as it is.
    built : the body with all that the program places.
    placed : its ports.

    Raises
    ------
    BadRecipe : a port shall carry something.
    BadSolid : a cutter is no solid.
    DoesNotFit : a place, a size or a collision that cannot be, with what would fit.
    """
    recipe, allowance = context.recipe, context.allowance
    if not recipe.fittings and not context.cutters:
        return MaskFitted(built=built)
    cutters = [modelled_solid(one, f"cutter {n}").solid for n, one in enumerate(context.cutters, start=1)]
    body = cut(built.body, cutters)
    ports = []
    for key, place in fittings_of(recipe, "port").items():
        if place.carries in ("holder", "cap"):
            raise BadRecipe(
                f"A port of the maker's own on a mask carries nothing; {key} shall carry a {place.carries}.",
                Where("port", key=f"{key}.carries"),
                "Leave it to carry nothing, or give a port in the section ports.",
            )
        parts = make_port(place.connection, allowance)
        ports.append(standing_port(body, parts, fitting_frame(body, place, parts), None, key))
    lugs = [standing_lug_of(body, key, one, allowance) for key, one in fittings_of(recipe, "lug").items()]
    there = [Room(f"strap lug {n}", lug) for n, lug in enumerate(built.lugs, start=1)]
    there += [Room(f"port {n}", one.parts.boss.moved(one.frame)) for n, one in enumerate(placed, start=1)]
    require_free(there, rooms_of(ports, lugs))
    joined = join(body, ports, lugs)
    skin = context.cache.call(band_face, context.prepared.face, shape.band)
    kept, fix = cut_by(built.body.mesh, skin), "Move it off the band, towards the port."
    require_untouched(built.body.mesh, joined.solid.mesh, kept, "contact band", fix)
    require_free([Room("skin", skin)], rooms_of(ports, lugs))
    opened = body.genus - built.body.genus
    return MaskFitted(
        built=replace(built, body=joined.solid.named("body")),
        ports=tuple(port.placed for port in ports),
        standing=tuple((lug.parts, lug.point) for lug in lugs),
        more_holes=opened + len(lugs),
        told=tuple(_told(context, [port.placed for port in ports], len(lugs), opened)),
    )


def _told(context: Context, ports: Sequence[Placed], lugs: int, opened: int) -> list[Remark]:
    """What air may pass by, and what predictions leave out."""
    found: list[Remark] = []
    for placed in ports:
        place = fittings_of(context.recipe, "port")[placed.key]
        if place.connection.kind in _OPEN:
            text = (
                f"The port of {placed.key} opens the chamber: close it or put something on it before it is "
                "worn. Predictions take it as closed."
            )
            found.append(Remark("warning", text, Where("port", point=plain_point(placed.frame[:3, 3]))))
    if lugs:
        text = f"Lugs of the maker's own: {lugs}. The prediction pulls at the straps' lugs alone."
        found.append(Remark("note", text, Where("lug", key="recipe.fittings")))
    if opened > 0:
        text = f"Cuts open {opened} ways through the body: air passes there unless something closes them."
        found.append(Remark("warning", text, Where("body")))
    return found

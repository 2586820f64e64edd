"""What every stage of a design is given: wearer, decisions, how densely, and the results kept so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, TypeAlias

from ..facepiece.chamber_cage import Cage
from ..hardware.allowance import Allowance, allowance_of
from ..mesh import TriMesh
from ..recipe import Recipe
from ..recipe.decisions import require_port
from ..stage_cache import StageCache
from .prepared import Prepared
from .shaped_surface import ShapedSurface

QualityName = Literal["sketch", "preview", "final"]
Points = Sequence[Sequence[float]]
ChamberForm: TypeAlias = Cage | TriMesh


@dataclass(frozen=True, eq=False)
class OwnShape:
    """What the maker shaped of a mask, in the face frame, mm.

    Attributes
    ----------
    form : outer form of its chamber; None lets the program choose.
    cutters : closed meshes that are cut out of its body.
    """

    form: ChamberForm | None = None
    cutters: Sequence[TriMesh] = ()


@dataclass(frozen=True)
class Quality:
    """Which stages of a design run, and how densely its facepiece is laid out.

    Attributes
    ----------
    stations : round the seal line.
    band_row_mm, wall_row_mm : distance between the rows of the band and of the wall, which is fair and bends
        little: chords of 2.4 mm lie within 0.03 mm of a radius of 25 mm.
    solids : further ports, lugs and the body are made; else only seal line, band, wall and strap places.
    complete : holder and other parts are made, room is required for all, and the result is measured.
    """

    stations: int
    band_row_mm: float
    wall_row_mm: float
    solids: bool
    complete: bool


QUALITIES: dict[QualityName, Quality] = {
    "sketch": Quality(96, 3.0, 3.0, solids=False, complete=False),
    "preview": Quality(96, 3.0, 3.0, solids=True, complete=False),
    "final": Quality(192, 1.8, 2.4, solids=True, complete=True),
}


@dataclass(frozen=True, eq=False)
class Context:
    """What the stages of one design share.

    Attributes
    ----------
    prepared, recipe : the wearer and the maker's decisions.
    quality : which stages run, and how densely.
    seal_points : control points (k, 3) in the face frame that replace the recipe's, or None.
    cache : keeps stages between runs on the same prepared scan.
    out_mm : how much further out than it must the first port stands, so that the wall has room.
    surface : how the contact surface is shaped; None for an even one.
    form : the maker's outer form of the chamber, as a cage or as a surface; None lets the program choose.
    cutters : closed meshes of the maker's in the face frame, mm, that are cut out of the body.
    """

    prepared: Prepared
    recipe: Recipe
    quality: Quality
    seal_points: Points | None = None
    cache: StageCache = field(default_factory=StageCache)
    out_mm: float = 0.0
    surface: ShapedSurface | None = None
    form: ChamberForm | None = None
    cutters: Sequence[TriMesh] = ()

    @cached_property
    def allowance(self) -> Allowance:
        """Fits and coating, as the recipe has them."""
        return allowance_of(self.recipe.allowance)


def context_of(
    prepared: Prepared,
    recipe: Recipe,
    quality: QualityName,
    seal_points: Points | None = None,
    cache: StageCache | None = None,
) -> Context:
    """The context of a design; without a cache it gets one of its own.

    Raises
    ------
    BadRecipe : a facepiece without any port.
    """
    require_port(recipe)
    kept = cache if cache is not None else StageCache()
    return Context(prepared, recipe, QUALITIES[quality], seal_points, kept)

"""A strap lug on any closed body: its root follows the surface under it and ends in the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..facepiece.body import SHORT_MM, clear_of_hairs
from ..facepiece.strap_points import StrapPoint
from ..hardware.allowance import Allowance
from ..hardware.lug_wall import HEIGHTS_MM, NOTHING_MM, LugWall, across_mm
from ..hardware.lugs import LugParts, half_span, lowest_tip, make_lug
from ..hardware.options import LugSizes
from ..mesh import Bools, Floats, TriMesh
from ..solids.boolean import Solid
from .columns import Columns, columns_under
from .hollow import hollows_behind, without

_THROUGH_MM = 25.0  # the surface is looked for so far off the plane of the lug
_COLUMN_MM = 0.3


@dataclass(frozen=True, eq=False)
class StandingLug:
    """A lug in place, not yet joined to its body.

    Attributes
    ----------
    parts : in the lug's frame.
    point : frame and wall under it.
    solid : in place; to be united with the body.
    wall_mm : least thickness of the wall under its fins.
    key : dotted recipe key that moves it.
    """

    parts: LugParts
    point: StrapPoint
    solid: Solid
    wall_mm: float
    key: str = "lug"


def standing_lug(
    body: Solid, settings: LugSizes, frame: Floats, allowance: Allowance, key: str = "lug"
) -> StandingLug:
    """Stand a strap lug on a body.

    Parameters
    ----------
    body : closed, outward, mm.
    settings : its sizes.
    frame : 4x4, origin on the surface, +Z out, the strap pulls about +Y; see `standing_frame`.
    allowance : for the coating in the slot.
    key : dotted recipe key that moves it, for messages.

    Raises
    ------
    DoesNotFit : the surface ends or falls away under it.
    """
    half, thick = half_span(settings, allowance), settings.bar_mm
    wall, under = _wall_under(body.mesh, frame, across_mm(half, thick))
    tip = lowest_tip(settings, allowance, wall)
    _require_ground(under, frame, tip, key)
    parts = make_lug(settings, allowance, wall)
    solid = parts.solid.moved(frame).named("lug").with_short_edges(SHORT_MM)
    low, high = parts.solid.mesh.bounds
    wide = half + 0.5 * thick + _COLUMN_MM
    outline = np.array([(-wide, low[1]), (wide, low[1]), (wide, high[1]), (-wide, high[1])])
    hollows = hollows_behind(body, frame, outline, under, float(low[2]))
    solid = clear_of_hairs(without(solid, hollows), body)
    root = _under_fins(under, tip)
    return StandingLug(parts, StrapPoint(frame, wall, 0), solid, float(under.thick[root].min()), key)


def _wall_under(mesh: TriMesh, frame: Floats, across: Floats) -> tuple[LugWall, Columns]:
    """The surface under a lug, at the tabulated heights of each place across."""
    x, y = np.meshgrid(across, HEIGHTS_MM, indexing="ij")
    under = columns_under(mesh, frame, np.column_stack([x.ravel(), y.ravel()]), _THROUGH_MM)
    z = np.where(under.there, np.round(under.surface, 7), NOTHING_MM).reshape(x.shape)
    return LugWall(tuple(tuple(column) for column in z.tolist())), under


def _under_fins(under: Columns, tip_mm: float) -> Bools:
    """Places (k,) under the fins of a lug that ends at a height."""
    across, up = under.places.T
    fins = np.abs(across) > 0.6 * np.abs(across).max()
    return np.asarray(fins & (up >= tip_mm) & (up <= 0.0), dtype=np.bool_)


def _require_ground(under: Columns, frame: Floats, tip_mm: float, key: str) -> None:
    """Refuse a surface on which the fins of a lug find no root.

    Raises
    ------
    DoesNotFit : with the place.
    """
    across, up = under.places.T
    missing = _under_fins(under, tip_mm) & ~under.there
    if missing.any():
        at = int(np.flatnonzero(missing)[np.argmin(np.hypot(across[missing], up[missing]))])
        place = frame[:3, 3] + frame[:3, :2] @ under.places[at]
        width = 2.0 * float(np.abs(across).max())
        raise DoesNotFit(
            f"The surface ends under the lug, which is {width:.0f} mm wide and reaches {-tip_mm:.0f} mm "
            "down.",
            Where("lug", point=plain_point(place), key=key),
            "Move it away from the edge, turn it, or take narrower webbing.",
        )
    if tip_mm <= HEIGHTS_MM[0]:
        raise DoesNotFit(
            "The surface falls away under the lug: its fins find no root.",
            Where("lug", point=plain_point(frame[:3, 3]), key=key),
            "Turn it so that the strap pulls along the surface, or choose a flatter place.",
        )

"""What lies behind the wall under a fitting: no boss and no root of a lug may stand in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..mesh import Floats
from ..solids.boolean import Solid, difference, main_piece, pieces, shared_volume
from ..solids.primitives import prism
from .columns import Columns

_AMID = 0.4  # of the way through the wall: what ends on its far side would share a surface with it
_TOP_MM = 1.0  # how far the look reaches over the surface
_NOTHING_MM3 = 1e-6


def hollows_behind(
    body: Solid, frame: Floats, outline: Floats, under: Columns, deep_mm: float
) -> Sequence[Solid]:
    """The hollows behind the wall under a fitting, reaching a little into the wall, in place.

    Parameters
    ----------
    body : what the fitting stands on.
    frame : 4x4 of the fitting.
    outline : (k, 2) of the fitting's root, counter-clockwise, star-shaped; in the frame, mm.
    under : surface and wall under it.
    deep_mm : lowest height of the fitting in its frame.
    """
    there = under.there
    if not there.any() or deep_mm >= float(under.far[there].max()):
        return ()  # it ends in the wall
    low, high = deep_mm - _TOP_MM, float(under.surface[there].max()) + _TOP_MM
    column = prism(outline, low, high, "column").moved(frame)
    if shared_volume(column, body) >= column.volume - _NOTHING_MM3:
        return ()
    found = []
    into = frame[:3, 2] * _AMID * max(float(under.thick[there].min()), 0.0)
    shift = np.eye(4)
    shift[:3, 3] = into
    for piece in pieces(difference("hollow", column, body)):
        top = float(((piece.mesh.vertices - frame[:3, 3]) @ frame[:3, 2]).max())
        if top < high - 0.5 * _TOP_MM:
            found += [piece, piece.moved(shift)]
    return found


def without(fitting: Solid, hollows: Sequence[Solid]) -> Solid:
    """A fitting without what would stand in the hollows.

    Raises
    ------
    BooleanFailed : most of it would.
    """
    met = [hollow for hollow in hollows if shared_volume(fitting, hollow) > _NOTHING_MM3]
    return main_piece(difference(fitting.role, fitting, *met), 0.5) if met else fitting

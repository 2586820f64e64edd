"""How a chamber wall may hang over in the print, and what is said where it hangs over further."""

from __future__ import annotations

import numpy as np

from ..errors import Remark, Where, plain_point
from ..facepiece.body import Placed
from ..facepiece.overhang import PrintDown, overhang_deg, overhang_mm2, print_down
from ..facepiece.shell import Shell
from ..recipe import Recipe

_BELOW_LIMIT_DEG = 2.0  # the wall keeps this much under the limit: slicers then see no overhang
_STEEP_DEG = 5.0  # past the limit by this much is worth a remark
_STEEP_MM2 = 20.0


def print_down_in(port: Placed, recipe: Recipe) -> PrintDown:
    """How a body prints whose first port is this, and how far its wall may hang over."""
    limit = recipe.printer.overhang_deg - _BELOW_LIMIT_DEG
    return print_down(port.frame, port.parts.seat_radius_mm, limit)


def slope_remarks(shell: Shell, down: PrintDown | None) -> list[Remark]:
    """Says where the wall stays steeper than asked."""
    if down is None:
        return []
    steep = overhang_deg(shell.outer_side, down)
    limit = down.limit_deg + _BELOW_LIMIT_DEG
    area = overhang_mm2(shell.outer_side, shell.outer_side, down, _BELOW_LIMIT_DEG + _STEEP_DEG)
    if area < _STEEP_MM2:
        return []
    station, row = np.unravel_index(int(np.argmax(steep)), steep.shape)
    text = (
        f"{area:.0f} mm2 of the body hang over by up to {steep.max():.0f} degrees; the limit is "
        f"{limit:.0f} degrees."
    )
    where = Where(
        "chamber wall", point=plain_point(shell.outer_side[station, row]), key="recipe.ports[0].front_mm"
    )
    return [Remark("warning", f"{text} Let the port stand further out, or higher.", where)]

"""What the overhang limit does to a facepiece: its overhang beside that of a wall without the limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..facepiece.body import Placed
from ..facepiece.chamber_wall import chamber_wall
from ..facepiece.overhang import PrintDown, overhang_mm2
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, make_shell
from ..recipe import Recipe
from .context import QUALITIES
from .shape import Shape, throat_in
from .wall_overhang import print_down_in


@dataclass(frozen=True)
class ComparedOverhang:
    """Area of a facepiece past the overhang limit, mm2, as it is and as it would be without the limit."""

    overhang_limited_mm2: float
    overhang_free_mm2: float


def compared_overhang(shape: Shape, recipe: Recipe, port: Placed, line: SealLine) -> ComparedOverhang:
    """What the overhang limit does to a facepiece.

    Parameters
    ----------
    shape : the facepiece.
    recipe : the maker's decisions.
    port : the first port where the recipe puts it.
    line : the seal line.
    """
    down = print_down_in(port, recipe)
    free = chamber_wall(shape.band, throat_in(port), shape.field, QUALITIES["preview"].wall_row_mm)
    plain = make_shell(shape.band, free, recipe.chamber.wall_mm, line.sigma_stations)
    return ComparedOverhang(
        overhang_limited_mm2=_overhang(shape.shell, print_down_in(shape.port, recipe)),
        overhang_free_mm2=_overhang(plain, down),
    )


def _overhang(shell: Shell, down: PrintDown) -> float:
    """Area past the limit of the rim and both sides; the trimmed contact rows look up in the print."""
    outer = np.concatenate([shell.edge[:, ::-1], shell.outer_side], axis=1)
    return overhang_mm2(outer, shell.chamber_side, down)

# SPDX-License-Identifier: GPL-3.0-or-later
"""The outline of a shell and its holes as one editable curve on the scan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from mathutils import Vector

from ..model.own_objects import OUTLINE_TAG, lines_of, outline_object
from ..model.skin_curve import draw_on_skin, new_skin_curve
from ..model.wearers import living

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

STEPS = 8  # between two points, of the line that the overlay draws


def draw_outline(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, lines: Sequence[Floats]
) -> bpy.types.Object:
    """Make the curve, or give it new lines; the wearer's design is a shell from then on.

    Parameters
    ----------
    lines : points (k, 3) of each closed line, in the world.
    """
    assert context.scene is not None
    obj = living(wearer.outline, context.scene)
    if obj is None:
        obj = wearer.outline = new_skin_curve(context, wearer, "outline", OUTLINE_TAG)
    draw_on_skin(context, wearer, obj, lines)
    wearer.recipe.kind = "shell"
    return obj


def onto_scan(context: bpy.types.Context, scan: bpy.types.Object, points: Floats) -> Floats:
    """Places (k, 3) of the world moved to the nearest ones of the scan as it is seen."""
    seen = scan.evaluated_get(context.evaluated_depsgraph_get())
    there = seen.matrix_world
    back = there.inverted()
    found = [there @ seen.closest_point_on_mesh(back @ Vector(point))[1] for point in points.tolist()]
    return np.array([place[:] for place in found], dtype=np.float64)


def drawn_outline(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> list[Floats]:
    """The lines of a shell as the overlay draws them, (k, 3) in the world, closed; none for another kind."""
    return [rounded(line) for line in lines_of(outline_object(context, wearer)) if len(line) > 2]


def rounded(line: Floats) -> Floats:
    """A smooth closed way (k, 3) through points (n, 3): Catmull and Rom's spline."""
    before, after, next_but_one = (np.roll(line, shift, axis=0)[:, None] for shift in (1, -1, -2))
    here, t = line[:, None], np.linspace(0.0, 1.0, STEPS, endpoint=False)[None, :, None]
    way = (
        2.0 * here
        + (after - before) * t
        + (2.0 * before - 5.0 * here + 4.0 * after - next_but_one) * t**2
        + (3.0 * here - before - 3.0 * after + next_but_one) * t**3
    )
    found = 0.5 * way.reshape(-1, 3)
    return np.vstack([found, found[:1]])

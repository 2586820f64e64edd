# SPDX-License-Identifier: GPL-3.0-or-later
"""The outline of a shell and its holes as one editable curve on the scan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from mathutils import Vector

from ..model.own_objects import OUTLINE_TAG, lines_of, outline_object
from ..model.seal_curve import on_skin
from ..model.wearers import TAG, living, wearer_collection, wearer_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

LIFT_MM = 0.4  # of the curve off the skin
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
    obj, mm = living(wearer.outline, context.scene), wearer_mm(context, wearer)
    if obj is None:
        curve = bpy.data.curves.new(f"{wearer.name} outline", "CURVE")
        obj = bpy.data.objects.new(curve.name, curve)
        obj[TAG], obj.hide_render = OUTLINE_TAG, True
        wearer_collection(context, wearer).objects.link(obj)
        wearer.outline = obj
        curve.dimensions, curve.resolution_u = "3D", 24
    _write(obj, lines)
    on_skin(obj, wearer.scan, LIFT_MM / mm)
    wearer.recipe.kind = "shell"
    return obj


def _write(obj: bpy.types.Object, lines: Sequence[Floats]) -> None:
    curve = obj.data
    assert isinstance(curve, bpy.types.Curve)
    curve.splines.clear()
    obj.matrix_world.identity()
    for line in lines:
        spline = curve.splines.new("BEZIER")
        spline.use_cyclic_u = True
        spline.bezier_points.add(len(line) - 1)
        for point, place in zip(spline.bezier_points, line.tolist(), strict=True):
            point.co = place
            point.handle_left_type = point.handle_right_type = "AUTO"


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

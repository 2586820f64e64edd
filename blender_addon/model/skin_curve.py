# SPDX-License-Identifier: GPL-3.0-or-later
"""A smooth curve kept on the scan while its points are dragged: a seal line, or the outline of a shell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from .wearers import TAG, wearer_collection, wearer_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

LIFT_MM = 0.4  # off the skin, so that it is seen


def new_skin_curve(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, word: str, tag: str
) -> bpy.types.Object:
    """An empty curve in the wearer's collection, named after the wearer and a word."""
    curve = bpy.data.curves.new(f"{wearer.name} {word}", "CURVE")
    curve.dimensions, curve.resolution_u = "3D", 24
    obj = bpy.data.objects.new(curve.name, curve)
    obj[TAG], obj.hide_render = tag, True
    wearer_collection(context, wearer).objects.link(obj)
    return obj


def draw_on_skin(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, obj: bpy.types.Object, lines: Sequence[Floats]
) -> None:
    """Give a curve new closed lines, points (k, 3) of each in the world, and keep it on the wearer's scan."""
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
    # Blender's own modifier moves the drawn line, not its points alone.
    modifier = obj.modifiers.get("Skin") or obj.modifiers.new("Skin", "SHRINKWRAP")
    assert isinstance(modifier, bpy.types.ShrinkwrapModifier)
    modifier.target, modifier.offset = wearer.scan, LIFT_MM / wearer_mm(context, wearer)
    modifier.wrap_method = "NEAREST_SURFACEPOINT"
    modifier.show_in_editmode = modifier.show_on_cage = True

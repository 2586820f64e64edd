# SPDX-License-Identifier: GPL-3.0-or-later
"""What the maker drew or modelled for a wearer: outline, model, cage and cutters, read as they are seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np

from .convert import matrix_array
from .placing import to_world
from .seal_curve import seal_object
from .wearers import living

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

SHELL, TRIM, BODY = "shell", "trim", "body"  # kinds of design that use the maker's own shapes
OWN = (SHELL, TRIM)  # and of these, those that are nothing else
OUT = "out"  # attribute of a cage's points: the direction away from the chamber, as it was taken
GRID = "sealwright_grid"  # on the mesh of a cage: stations, and points from band to port
OUTLINE_TAG, CAGE_TAG = "outline", "cage"


def outline_object(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The curve of a shell, if the design is one and it is in the scene."""
    assert context.scene is not None
    return living(wearer.outline, context.scene) if wearer.recipe.kind == SHELL else None


def model_object(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The closed mesh that is trimmed, if the design is one and it is in the scene."""
    assert context.scene is not None
    return living(wearer.model, context.scene) if wearer.recipe.kind == TRIM else None


def cage_object(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The outer form of the chamber, if the design is a mask and it is in the scene."""
    assert context.scene is not None
    return living(wearer.cage, context.scene) if wearer.recipe.kind == BODY else None


def cutters_of(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> list[bpy.types.Object]:
    """The closed meshes that are cut out of a mask or a shape of the maker's own."""
    assert context.scene is not None
    rows = wearer.cutters if wearer.recipe.kind in (*OWN, BODY) else ()
    found = [living(row.cutter, context.scene) for row in rows]
    return [obj for obj in found if obj is not None]


def edited_line(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The line that is edited on the skin: the outline of a shell, else the seal line."""
    if wearer.recipe.kind == SHELL:
        return outline_object(context, wearer)
    return seal_object(context, wearer)


def lines_of(obj: bpy.types.Object | None) -> list[Floats]:
    """Points (k, 3) of each spline of a curve in the world, the longest first; edits in edit mode count."""
    if obj is None or not isinstance(obj.data, bpy.types.Curve):
        return []
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    place, found = matrix_array(obj.matrix_world), []
    for spline in obj.data.splines:
        source = spline.bezier_points if spline.type == "BEZIER" else spline.points
        points = np.array([point.co[:3] for point in source], dtype=np.float64).reshape(-1, 3)
        found.append(to_world(place, points))
    return sorted(found, key=lambda line: -length_of(line))


def length_of(line: Floats) -> float:
    """Length of a closed polygon (k, 3)."""
    return float(np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1).sum())

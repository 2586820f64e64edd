# SPDX-License-Identifier: GPL-3.0-or-later
"""Landmarks as named empties that stick to the scan, and their positions back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import bpy
import numpy as np

from .wearers import TAG, tagged, wearer_collection, wearer_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

PREFIX = "landmark:"
PROPOSAL = "sealwright_proposal"  # world position when it was proposed
CONFIDENCE = "sealwright_confidence"
MOVED_MM = 0.05  # an empty within this of its proposal was not moved by the maker
SIZE_MM = 6.0


def place_landmarks(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    points: Mapping[str, Floats],
    confidence: Mapping[str, float],
    keep_moved: bool = True,
) -> int:
    """Make or move the wearer's empties.

    Parameters
    ----------
    points : name -> (3,) world position.
    confidence : name -> 0 to 1.
    keep_moved : landmarks that the maker moved stay where they are.

    Returns
    -------
    kept : how many stayed because the maker had moved them.
    """
    moved = moved_landmarks(context, wearer) if keep_moved else {}
    old = dict(tagged(wearer, PREFIX))
    for name, point in points.items():
        if name in moved:
            continue
        obj = old.get(name) or new_landmark(context, wearer, name)
        obj.location = tuple(float(c) for c in point)  # type: ignore[assignment]
        obj[PROPOSAL] = [float(c) for c in point]
        obj[CONFIDENCE] = float(confidence.get(name, 1.0))
    stick_to(wearer, wearer.scan)
    return len(moved)


def new_landmark(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, name: str) -> bpy.types.Object:
    """A new empty for a landmark, not yet placed."""
    obj = bpy.data.objects.new(f"{wearer.name} {name.replace('_', ' ')}", None)
    obj[TAG] = PREFIX + name
    obj.empty_display_type = "SPHERE"
    obj.empty_display_size = SIZE_MM / 2.0 / wearer_mm(context, wearer)
    obj.constraints.new("SHRINKWRAP").name = "Skin"
    wearer_collection(context, wearer).objects.link(obj)
    return obj


def stick_to(wearer: SEALWRIGHT_PG_wearer, scan: bpy.types.Object | None) -> None:
    """Let the skin of this scan hold the empties; Blender's own constraint moves them as they are dragged."""
    for _, obj in tagged(wearer, PREFIX):
        for constraint in obj.constraints:
            if isinstance(constraint, bpy.types.ShrinkwrapConstraint):
                constraint.target = scan
                constraint.shrinkwrap_type = "NEAREST_SURFACE"
                constraint.distance = 0.0


def world_landmarks(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> dict[str, Floats]:
    """Name -> (3,) world position as seen, on the skin."""
    graph = context.evaluated_depsgraph_get()
    return {
        name: np.array(obj.evaluated_get(graph).matrix_world.translation, dtype=np.float64)
        for name, obj in tagged(wearer, PREFIX)
    }


def moved_landmarks(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> dict[str, Floats]:
    """The landmarks that the maker moved or made, world positions."""
    mm = wearer_mm(context, wearer)
    seen, found = world_landmarks(context, wearer), {}
    for name, obj in tagged(wearer, PREFIX):
        proposal = obj.get(PROPOSAL)  # type: ignore[no-untyped-call]
        # the location is what the hand moved; where the skin then holds the empty is another matter
        if proposal is None or float(np.linalg.norm(np.array(obj.location) - proposal)) * mm > MOVED_MM:
            found[name] = seen[name]
    return found

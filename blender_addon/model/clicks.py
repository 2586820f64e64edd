# SPDX-License-Identifier: GPL-3.0-or-later
"""Places clicked on the scan: what is asked for, where a click meets the skin, and what the core gets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from .convert import matrix_array

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

ASKED = ("one outer eye corner", "the other outer eye corner", "the tip of the nose")
ASKING: list[str] = []
"""The sentence that asks for the next click, while clicks are being asked for; the overlay draws it."""

PLACES: list[Any] = []
"""Places clicked so far while the clicks are being asked for; the overlay draws them."""


def clicks_of(wearer: SEALWRIGHT_PG_wearer) -> dict[str, Floats]:
    """Name -> (3,) world position of the wearer's three clicks; empty without."""
    from ..core.scan.pose.three_clicks import NAMES

    places = np.array(wearer.clicks, dtype=np.float64).reshape(3, 3)
    return dict(zip(NAMES, places, strict=True)) if wearer.clicked else {}


def hit_on_scan(
    scan: bpy.types.Object, graph: bpy.types.Depsgraph, origin: Floats, along: Floats
) -> Floats | None:
    """Where a ray in the world first meets the scan (3,), or None."""
    seen = scan.evaluated_get(graph)
    there = matrix_array(seen.matrix_world)
    back = np.linalg.inv(there)
    start, way = back[:3, :3] @ origin + back[:3, 3], back[:3, :3] @ along
    hit, place, _, _ = seen.ray_cast(tuple(start), tuple(way / np.linalg.norm(way)))  # type: ignore[arg-type]
    return there[:3, :3] @ np.array(place) + there[:3, 3] if hit else None


def view_under(context: bpy.types.Context, x: int, y: int) -> tuple[Any, Any] | None:
    """The 3D view's region and its view under a place of the window, unless a sidebar lies over it there."""
    areas: Any = context.window.screen.areas if context.window else ()
    for area in areas:
        if area.type != "VIEW_3D":
            continue
        over = [r for r in area.regions if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height]
        if over and all(region.type == "WINDOW" for region in over):
            return over[0], area.spaces.active.region_3d
    return None

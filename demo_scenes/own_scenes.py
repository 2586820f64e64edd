"""Demonstration scenes of shapes of a maker's own: a nose guard, a full-face shell, a sculpted chamber.

Like `scenes`, through the extension's own operators, so that a maker can do the same by hand.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

FRONT_MM = 200.0  # before the face, from where it is looked at
STEP_MM = 1.5  # between places of a stroke
NOSE = (
    (0, 47), (9, 40), (15, 24), (24, 8), (24, -4), (12, -8), (0, -9), (-12, -8), (-24, -4), (-24, 8),
    (-15, 24), (-9, 40),
)  # fmt: skip
"""Outline of a nose guard in the front view (x, z), mm."""

FULL_FACE = (58.0, 95.0, -60.0)
"""Half the width of the full-face shell, its top and its lowest place in the front view, mm."""

SWELL_MM = 6.0  # by which the sculpted chamber stands further out at its cheeks


def on_skin(front: Sequence[tuple[float, float]]) -> list[dict[str, object]]:
    """A closed way through places (x, z) of the front view as a stroke on the scan, as operators take it."""
    import bpy

    scan = bpy.context.scene.sealwright.wearers[0].scan
    corners = np.array([*front, front[0]], dtype=np.float64)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))])
    at = np.arange(0.0, along[-1] - STEP_MM, STEP_MM)
    ways = [np.interp(at, along, corners[:, axis]) for axis in range(2)]
    hits = [scan.ray_cast((x, -FRONT_MM, z), (0.0, 1.0, 0.0)) for x, z in zip(*ways, strict=True)]
    return [{"name": "", "place": tuple(place)} for hit, place, *_ in hits if hit]


def titled(title: str) -> None:
    """Name the design."""
    import bpy

    bpy.context.scene.sealwright.wearers[0].recipe.title = title


def nose_guard() -> None:
    """A shell over the nose, drawn in one stroke."""
    import bpy

    bpy.ops.sealwright.draw_outline(stroke=on_skin(NOSE))
    titled("Nose guard")


def full_face_shell() -> None:
    """A shell over the whole face, with openings for eyes and mouth by landmarks, and strap slots."""
    import bpy

    wide, top, low = FULL_FACE
    turns = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
    half = 0.5 * (top - low)
    ring = [(wide * np.sin(t), low + half + half * np.cos(t)) for t in turns.tolist()]
    bpy.ops.sealwright.draw_outline(stroke=on_skin(ring))
    for kind in ("holes", "holes", "slots"):
        bpy.ops.sealwright.add_opening(kind=kind)
    shell = bpy.context.scene.sealwright.wearers[0].recipe.shell
    eyes, mouth = shell.holes
    eyes.at, eyes.width_mm = "eyes", 36.0
    mouth.at, mouth.width_mm, mouth.height_mm = "mouth", 50.0, 20.0
    shell.slots[0].level = 0.9
    titled("Full-face shell")


def sculpted_chamber() -> None:
    """A mask with two ports whose chamber was taken out as a cage and swollen at the cheeks."""
    import bpy

    bpy.ops.sealwright.take_cage()
    mesh = bpy.context.scene.sealwright.wearers[0].cage.data
    points, out = (np.empty(3 * len(mesh.vertices), dtype=np.float32) for _ in range(2))
    mesh.vertices.foreach_get("co", points)
    mesh.attributes["out"].data.foreach_get("vector", out)
    rows = mesh["sealwright_grid"][1]
    row = np.arange(len(mesh.vertices)) % rows / (rows - 1)
    aside = np.abs(points.reshape(-1, 3)[:, 0]) / np.abs(points[::3]).max()
    swell = SWELL_MM * np.sin(np.pi * row) ** 2 * aside
    mesh.vertices.foreach_set("co", points + (swell[:, None] * out.reshape(-1, 3)).ravel())
    mesh.update()
    titled("Half mask with a sculpted chamber")

# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawing in pixels over a view: rectangles, discs, texts of the maker's size."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import bpy

if TYPE_CHECKING:
    from collections.abc import Sequence

WHITE = (1.0, 1.0, 1.0, 1.0)
LETTER = 13.0  # pixels


def scale_of_text() -> float:
    """The maker's resolution scale; 1 without a window, where Blender says 0."""
    system = bpy.context.preferences.system if bpy.context.preferences else None
    return float((system.ui_scale if system else 0.0) or 1.0)


def rectangle(x: float, y: float, width: float, height: float, colour: tuple[float, ...]) -> None:
    """A filled rectangle."""
    _fan(corners_of(x, y, width, height), colour)


def corners_of(x: float, y: float, width: float, height: float) -> list[tuple[float, float]]:
    """The corners of a rectangle, once round."""
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def disc(middle: tuple[float, float], radius: float, colour: tuple[float, ...], corners: int = 24) -> None:
    """A filled disc; with four corners a square that stands on its side."""
    turn = math.tau / corners
    _fan(
        [
            (middle[0] + radius * math.cos((i + 0.5) * turn), middle[1] + radius * math.sin((i + 0.5) * turn))
            for i in range(corners)
        ],
        colour,
    )


def frame(x: float, y: float, width: float, height: float, colour: tuple[float, ...]) -> None:
    """The four edges of a rectangle, a pixel wide."""
    for left, low, wide, high in (
        (x, y, width, 1.0),
        (x, y + height, width, 1.0),
        (x, y, 1.0, height),
        (x + width, y, 1.0, height),
    ):
        rectangle(left, low, wide, high, colour)


def _fan(corners: Sequence[tuple[float, float]], colour: tuple[float, ...]) -> None:
    """A filled convex polygon."""
    import gpu
    from gpu_extras.batch import batch_for_shader

    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    triangles = [(0, i, i + 1) for i in range(1, len(corners) - 1)]
    batch = batch_for_shader(shader, "TRIS", {"pos": list(corners)}, indices=triangles)
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)


def text_width(text: str, size: float = LETTER) -> float:
    """Width of a text in pixels."""
    import blf

    blf.size(0, size * scale_of_text())
    return float(blf.dimensions(0, text)[0])


def write(
    x: float, y: float, text: str, size: float = LETTER, colour: tuple[float, float, float, float] = WHITE
) -> None:
    """A text with a dark shadow; its lower left corner is given, its size is in pixels at a UI scale of 1."""
    import blf

    blf.size(0, size * scale_of_text())
    blf.enable(0, blf.SHADOW)
    blf.shadow(0, 3, 0.0, 0.0, 0.0, 1.0)
    blf.color(0, *colour)
    blf.position(0, x, y, 0)
    blf.draw(0, text)
    blf.disable(0, blf.SHADOW)

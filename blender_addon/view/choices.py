# SPDX-License-Identifier: GPL-3.0-or-later
"""The trade-off of a search in the 3D view: pressure across, how often a design works up, to choose from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import bpy

from ..core.limits import limit
from ..model.wearers import active_wearer, scene_state
from ..model.words import told
from .flat import WHITE, disc, frame, rectangle, scale_of_text, text_width, write
from .overlay import MARGIN, ORANGE, SKY, shown, tool_width, visible_legend
from .standing import choices_current

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..model.wearers import SEALWRIGHT_PG_wearer

WIDTH, HEIGHT = 330.0, 230.0  # of the whole plot at a UI scale of 1, pixels
LEFT, RIGHT, TOP, BOTTOM = 46.0, 14.0, 30.0, 46.0  # of its margins
BESIDE_LEGEND = 230.0  # a map's legend stands at the left
LEAST_RADIUS, MOST_RADIUS = 4.0, 8.0  # of a dot, by mass
GROUND, EDGE = (0.08, 0.08, 0.08, 0.82), (0.45, 0.45, 0.45, 1.0)
Place = tuple[float, float]


@dataclass(frozen=True)
class Plot:
    """Where everything of the plot is, in pixels of the region.

    Attributes
    ----------
    box : left, bottom, width, height of the ground.
    field : the same of the field within the margins.
    across, up : least and greatest value along each axis: kPa, and share of the draws.
    dots : places of the designs.
    radii : of their dots.
    wanted : height of the line of the share that is wanted.
    """

    box: tuple[float, float, float, float]
    field: tuple[float, float, float, float]
    across: tuple[float, float]
    up: tuple[float, float]
    dots: tuple[Place, ...]
    radii: tuple[float, ...]
    wanted: float


def laid_out(rows: Sequence[Any], corner: Place, scale: float = 1.0) -> Plot:
    """The plot of designs.

    Parameters
    ----------
    rows : with ``pressure_kpa``, ``working`` and ``mass_g``; at least one.
    corner : its lower left corner, pixels.
    scale : of the user interface.
    """
    kpa, share, mass = ([float(getattr(row, name)) for row in rows] for name in NUMBERS)
    wanted = limit("hold_share").value
    room = max(0.08 * (max(kpa) - min(kpa)), 0.05)
    across = (min(kpa) - room, max(kpa) + room)
    up = (max(min(*share, wanted) - 0.03, 0.0), min(max(*share, wanted) + 0.03, 1.0))
    box = (*corner, WIDTH * scale, HEIGHT * scale)
    field = (
        corner[0] + LEFT * scale,
        corner[1] + BOTTOM * scale,
        (WIDTH - LEFT - RIGHT) * scale,
        (HEIGHT - TOP - BOTTOM) * scale,
    )

    def height(value: float) -> float:
        return field[1] + field[3] * (value - up[0]) / (up[1] - up[0])

    dots = tuple(
        (field[0] + field[2] * (x - across[0]) / (across[1] - across[0]), height(y))
        for x, y in zip(kpa, share, strict=True)
    )
    span = (max(mass) - min(mass)) or 1.0
    grown = ((value - min(mass)) / span for value in mass)
    radii = tuple(scale * (LEAST_RADIUS + (MOST_RADIUS - LEAST_RADIUS) * part) for part in grown)
    return Plot(box, field, across, up, dots, radii, height(wanted))


WORDS = ("Start", "Softest", "Surest", "Balanced")
NUMBERS = ("pressure_kpa", "working", "mass_g")


def sentence_of(row: Any) -> str:
    """What a design is, as one or two sentences."""
    said = told(
        "{name}: {kpa} kPa, works in {share} %, {mass} g",
        name=told(row.name),
        kpa=f"{row.pressure_kpa:.1f}",
        share=f"{100 * row.working:.0f}",
        mass=f"{row.mass_g:.0f}",
    )
    picks = ", ".join(told(pick.capitalize()) for pick in row.picks.split(", ") if pick)
    said = f"{said} ({picks})" if picks else said
    return ". ".join(part.rstrip(".") for part in (said, row.change, row.told) if part)


def plot_now(context: bpy.types.Context) -> tuple[SEALWRIGHT_PG_wearer, Plot] | None:
    """The plot that is to be drawn, of whom; None where there is none, it is hidden or out of date."""
    wearer = active_wearer(context) if shown(context) else None
    if wearer is None or not scene_state(context).show_choices or not choices_current(context, wearer):
        return None
    left = MARGIN + tool_width(context)
    scale = scale_of_text()
    if visible_legend(context) is not None:
        left += int(BESIDE_LEGEND * scale)
    return wearer, laid_out(wearer.choices, (left, MARGIN), scale)


def draw_choices() -> None:
    """Ground, axes, the line that is wanted, a dot for each design."""
    found = plot_now(bpy.context)
    if found is None:
        return
    import gpu

    wearer, plot = found
    gpu.state.blend_set("ALPHA")
    rectangle(*plot.box, GROUND)
    frame(*plot.field, EDGE)
    left, _, width, _ = plot.field
    rectangle(left, plot.wanted - 0.5, width, 1.0, ORANGE)
    scale = scale_of_text()
    for index, (place, radius) in enumerate(zip(plot.dots, plot.radii, strict=True)):
        row, chosen = wearer.choices[index], index == wearer.choice
        colour = ORANGE if chosen else SKY
        if row.picks or row.is_start:
            disc(place, radius + 3.0 * scale, WHITE, corners=4 if row.is_start else 24)
        disc(place, radius, colour, corners=4 if row.is_start else 24)
    gpu.state.blend_set("NONE")
    _write_all(wearer, plot, scale)


def _write_all(wearer: SEALWRIGHT_PG_wearer, plot: Plot, scale: float) -> None:
    """Numbers at the axes, what they are of, and the chosen design."""
    left, bottom, width, height = plot.field
    for part in (0.0, 0.5, 1.0):
        kpa = plot.across[0] + part * (plot.across[1] - plot.across[0])
        share = plot.up[0] + part * (plot.up[1] - plot.up[0])
        text, up = f"{kpa:.1f}", f"{100 * share:.0f} %"
        write(left + part * width - text_width(text, 11.0) / 2, bottom - 15 * scale, text, 11.0)
        write(left - text_width(up, 11.0) - 5 * scale, bottom + part * height - 4 * scale, up, 11.0)
    for text, x, y in (
        (
            told("kPa on the skin; higher works more often, larger weighs more."),
            plot.box[0],
            plot.box[1] + 10,
        ),
        (f"{100 * limit('hold_share').value:g} %", left + width - 34 * scale, plot.wanted + 4 * scale),
    ):
        write(x + 6 * scale, y, text, 11.0)
    row = wearer.choices[min(wearer.choice, len(wearer.choices) - 1)]
    top = plot.box[1] + plot.box[3] - 18 * scale
    write(plot.box[0] + 8 * scale, top, sentence_of(row).partition(". ")[0], 12.0, ORANGE)


_handles: list[Any] = []


def start() -> None:
    """Add the plot to every 3D view."""
    _handles.append(bpy.types.SpaceView3D.draw_handler_add(draw_choices, (), "WINDOW", "POST_PIXEL"))


def stop() -> None:
    """Take it out again."""
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(_handles.pop(), "WINDOW")

# SPDX-License-Identifier: GPL-3.0-or-later
"""What is drawn over the 3D view: the place of a problem, the seal line with its bad spots, legends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..core.scan.landmark_names import side_of
from ..model.clicks import ASKING, PLACES
from ..model.fingerprint import inputs_print
from ..model.landmarks import PREFIX
from ..model.own_objects import OWN, edited_line
from ..model.stroke import STROKE
from ..model.trust_rows import WORDS, notable_sectors, up_to_date
from ..model.wearers import active_wearer, scene_state, tagged, wearer_mm
from .commit import LEGEND
from .flat import WHITE, rectangle, scale_of_text, text_width, write
from .legend import CLASS_COLOURS
from .lengths import MM_PER_INCH, in_inches, inches
from .line_marks import doubted_runs, drawn_line, marks_of
from .messages import COMING, current_problem
from .outline import drawn_outline
from .skin_map import TAG_SKIN
from .standing import made_from, parts_stale, standing_tags

if TYPE_CHECKING:
    from ..model.wearers import SEALWRIGHT_PG_wearer

_handles: list[tuple[Any, str]] = []
# Okabe-Ito colours, told apart by colour-blind eyes
VERMILION, SKY, ORANGE = (0.835, 0.369, 0.0, 1.0), (0.337, 0.706, 0.914, 1.0), (0.902, 0.624, 0.0, 1.0)
# Verdicts of the scanned skin: colour, width, dash and gap in mm; told apart by the dashes and by their names
DOUBT = {"doubtful": ((0.941, 0.894, 0.259, 1.0), 6.0, 3.0, 2.0), "rescan": (VERMILION, 8.0, 1.2, 1.8)}
INK = (0.05, 0.05, 0.05, 1.0)
# Landmarks by the wearer's side (Okabe and Ito): left sky blue, right orange, middle yellow
SIDES = {"left": SKY, "right": ORANGE, "middle": (0.941, 0.894, 0.259, 1.0)}
RAISED_MM = 2.0  # towards the eye, so that the skin a landmark lies in does not hide it
BAR_WIDTH, BAR_HEIGHT, MARGIN, STEPS = 18, 200, 24, 40
ASKED_LEFT, ASKED_TOP = 90, 150  # pixels; what is asked stands beside the tool bar


def shown(context: bpy.types.Context) -> bool:
    """Whether anything of ours is to be drawn: there is a scene with wearers and overlays are on."""
    space = context.space_data
    overlays = not isinstance(space, bpy.types.SpaceView3D) or space.overlay.show_overlays
    return context.scene is not None and overlays and len(scene_state(context).wearers) > 0


def draw_places() -> None:
    """The seal line, its marks and the place of a problem, in the scene's space."""
    context = bpy.context
    if not shown(context):
        return
    wearer = active_wearer(context)
    line = drawn_line(context, wearer) if wearer and wearer.recipe.kind not in OWN else None
    if wearer is not None and line is not None and len(line) > 1 and not covered(context, wearer):
        _draw("LINE_STRIP", np.vstack([line, line[:1]]), SKY, 3.0)
        unit = 1.0 / wearer_mm(context, wearer)
        for verdict, run in doubted_runs(context, wearer):
            colour, width, on, off = DOUBT[verdict]
            _draw("LINES", dashes(run, on * unit, off * unit), colour, width)
        for colour, points in marks_of(context, wearer):
            _draw("POINTS", points, colour, 9.0)
    if wearer is not None:
        draw_landmarks(context, wearer)
        for way in [] if covered(context, wearer) else drawn_outline(context, wearer):
            _draw("LINE_STRIP", way, SKY, 3.0)
    if len(STROKE) > 1:
        _draw("LINE_STRIP", np.array(STROKE), ORANGE, 4.0)
    if PLACES:
        _draw("POINTS", np.array(PLACES), ORANGE, 12.0)
    problem = current_problem(context)
    if problem is not None and problem.has_point:
        _draw("POINTS", np.array([problem.point[:]]), VERMILION, 14.0)


def covered(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether preview or parts lie over the line: it is drawn on bare skin, and while it is edited."""
    line = edited_line(context, wearer)
    if line is not None and line.mode == "EDIT":
        return False
    tags = standing_tags(wearer)
    return any(tag in tags and obj.visible_get() for tag, obj in tagged(wearer, ""))


def draw_landmarks(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> None:
    """Landmarks as large dots by side, hidden by what lies in front of them."""
    view = context.region_data
    if view is None:
        return
    eye = np.array(view.view_matrix.inverted().translation)
    for side, colour in SIDES.items():
        places = [
            obj.matrix_world.translation[:]
            for name, obj in tagged(wearer, PREFIX)
            if side_of(name) == side and obj.visible_get()
        ]
        if places:
            points = np.array(places)
            points += (
                (eye - points)
                * (RAISED_MM / wearer_mm(context, wearer))
                / np.linalg.norm(eye - points, axis=1, keepdims=True)
            )
            _draw("POINTS", points, INK, 13.0 * scale_of_text(), hidden=True)
            _draw("POINTS", points, colour, 10.0 * scale_of_text(), hidden=True)


def dashes(run: Any, on: float, off: float) -> Any:
    """A polyline (k, 3) cut into dashes: pairs of ends (2 m, 3), ``on`` long with ``off`` between.

    A dash is straight; on the seal line that is within a tenth of a millimetre.
    """
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(run, axis=0), axis=1))])
    starts = np.arange(0.0, max(along[-1] - 0.5 * on, 0.0) + 1e-9, on + off)
    ends = np.stack([starts, np.minimum(starts + on, along[-1])], axis=1).ravel()
    return np.stack([np.interp(ends, along, run[:, axis]) for axis in range(3)], axis=1)


def draw_names() -> None:
    """The names of the sectors that are not good, beside the line, in pixels."""
    from bpy_extras.view3d_utils import location_3d_to_region_2d
    from mathutils import Vector

    context = bpy.context
    wearer = active_wearer(context) if shown(context) else None
    drawn = drawn_line(context, wearer) if wearer else None
    if wearer is None or drawn is None or not up_to_date(context, wearer) or covered(context, wearer):
        return
    region, view = context.region, context.region_data
    if region is None or view is None:
        return
    named = [
        (row, location_3d_to_region_2d(region, view, Vector(row.point)))
        for _, row in notable_sectors(wearer.sectors)
    ]
    middle = location_3d_to_region_2d(region, view, Vector(drawn.mean(axis=0).tolist()))
    for row, place in named:
        if place is not None and middle is not None:
            text = f"{row.name}: {WORDS[row.verdict]}"
            left = place[0] < middle[0]  # outside the line, so that nose and mouth stay free
            write(int(place[0] - 14 - text_width(text) if left else place[0] + 14), int(place[1]) - 4, text)


def draw_asked() -> None:
    """What the maker is asked to click, large, at the top of the view."""
    region = bpy.context.region
    if ASKING and region is not None:
        write(ASKED_LEFT, region.height - ASKED_TOP, ASKING[0], 20.0)


def _draw(
    kind: str,
    points: Any,
    colour: tuple[float, float, float, float],
    size: float,
    hidden: bool = False,
) -> None:
    """Points or lines in the scene; ``hidden`` lets what lies in front of them hide them."""
    import gpu
    from gpu_extras.batch import batch_for_shader

    gpu.state.depth_test_set("LESS_EQUAL" if hidden else "NONE")
    if kind == "POINTS":
        shader = gpu.shader.from_builtin("UNIFORM_COLOR")
        gpu.state.point_size_set(size)
    else:
        shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, kind, {"pos": [tuple(map(float, p)) for p in points]})
    shader.bind()
    if kind != "POINTS":
        viewport: Any = gpu.state.viewport_get()  # type: ignore[func-returns-value]
        shader.uniform_float("viewportSize", viewport[2:])
        shader.uniform_float("lineWidth", size)
    shader.uniform_float("color", colour)
    batch.draw(shader)
    gpu.state.point_size_set(1.0)
    gpu.state.depth_test_set("NONE")


def draw_stale() -> None:
    """That what is seen is out of date, and why, at the top of the view."""
    context = bpy.context
    wearer = active_wearer(context) if shown(context) else None
    if wearer is None or context.region is None or ASKING:
        return
    said = parts_stale(context, wearer)
    if not said and visible_map_is_stale(context, wearer):
        said = "This map is of another state: show it again."
    if said:
        text = COMING[0] if COMING else f"Out of date.  {said}"
        write(ASKED_LEFT, context.region.height - ASKED_TOP, text, 15.0, WHITE if COMING else ORANGE)


def visible_map_is_stale(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether a map is to be seen that was made from other inputs than those of now."""
    now = inputs_print(context, wearer)
    return any(
        tag.startswith(("map:", TAG_SKIN)) and obj.visible_get() and made_from(obj) != now
        for tag, obj in tagged(wearer, "")
    )


def visible_legend(context: bpy.types.Context) -> dict[str, Any] | None:
    """The legend of the map that is to be seen, or None."""
    wearer = active_wearer(context)
    if wearer is None:
        return None
    for tag, obj in tagged(wearer, ""):
        data: Any = obj.data
        if tag.startswith(("map:", TAG_SKIN)) and obj.visible_get() and data.get(LEGEND) is not None:
            return dict(data[LEGEND])
    return None


def tool_width(context: bpy.types.Context) -> int:
    """Width of the tool bar that lies over the view, in pixels."""
    regions = context.area.regions if context.area else ()
    return max((region.width for region in regions if region.type == "TOOLS" and region.width > 1), default=0)


def draw_legend() -> None:
    """The colour bar with title, unit, ends and limit, in pixels."""
    context = bpy.context
    legend = visible_legend(context) if shown(context) else None
    if legend is None or context.region is None:
        return
    if legend["unit"] == "mm" and in_inches():
        ends = {name: legend[name] / MM_PER_INCH for name in ("low", "high", "limit")}
        legend |= {**ends, "unit": "in", "limit_text": inches(legend["limit_text"])}
    from ..core.render.colormap import colours_of

    low, high, limit = legend["low"], legend["high"], legend["limit"]
    left, bottom = MARGIN + tool_width(context), MARGIN + 40
    values = np.linspace(low, high, STEPS)
    colours = colours_of(values, low, high)  # what is drawn in pixels is sRGB, unlike colours on a mesh
    for step, colour in enumerate(colours):
        rectangle(
            left,
            bottom + step * BAR_HEIGHT // STEPS,
            BAR_WIDTH,
            BAR_HEIGHT // STEPS + 1,
            (*colour, 1.0),
        )
    share = (limit - low) / (high - low)
    if 0.0 <= share <= 1.0:
        rectangle(left - 4, bottom + int(share * BAR_HEIGHT) - 1, BAR_WIDTH + 8, 2, (1.0, 1.0, 1.0, 1.0))
        write(
            left + BAR_WIDTH + 10,
            bottom + int(share * BAR_HEIGHT) - 5,
            f"{limit:.3g}  {legend['limit_text']}",
        )
    for value, height in ((low, 0), (high, BAR_HEIGHT)):
        if abs(value - limit) > 0.08 * (high - low):
            write(left + BAR_WIDTH + 10, bottom + height - 5, f"{value:.3g}")
    write(left, bottom + BAR_HEIGHT + 16, f"{legend['title']} ({legend['unit']})")
    names = str(legend.get("classes", ""))
    for row, (name, rgb) in enumerate(zip(names.split("|") if names else (), CLASS_COLOURS, strict=False)):
        height = bottom + BAR_HEIGHT + 42 + 24 * row
        rectangle(left, height, BAR_WIDTH, BAR_WIDTH, (*rgb, 1.0))
        write(left + BAR_WIDTH + 10, height + 4, name)


def start() -> None:
    """Add the drawing to every 3D view."""
    space = bpy.types.SpaceView3D
    for function, kind in (
        (draw_places, "POST_VIEW"),
        (draw_legend, "POST_PIXEL"),
        (draw_names, "POST_PIXEL"),
        (draw_asked, "POST_PIXEL"),
        (draw_stale, "POST_PIXEL"),
    ):
        _handles.append((space.draw_handler_add(function, (), "WINDOW", kind), "WINDOW"))


def stop() -> None:
    """Take the drawing out again."""
    while _handles:
        handle, region = _handles.pop()
        bpy.types.SpaceView3D.draw_handler_remove(handle, region)

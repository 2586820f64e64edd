# SPDX-License-Identifier: GPL-3.0-or-later
"""What a preview or a full build leaves in the file: parts, an editable quad body, maps, verdicts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..model import cache
from ..model.fingerprint import inputs_print, without_line
from ..model.placing import part_place, to_world
from ..model.seal_curve import changed_points, draw_seal_line, seal_object
from ..model.trust_rows import forget, judge
from ..model.wearers import tagged, wearer_mm
from ..view.commit import FROM, Part, commit_parts
from ..view.framing import plain_views
from ..view.handles import keep
from ..view.maps import map_parts, pressure_map
from ..view.skin_map import TAG_SKIN
from ..view.standing import PART, PREVIEW
from .stages import commit_face

if TYPE_CHECKING:
    import bpy
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.designing.prepared import Prepared
    from ..core.designing.preview import LiveShape
    from ..core.facepiece.seal_line import SealLine
    from ..core.jobs.make import Made
    from ..core.progress import Job
    from ..core.verdicts.rows import CheckRow
    from ..model.wearers import SEALWRIGHT_PG_wearer

CUSHION = "cushion"
OURS = (PART, CUSHION, "map:", "quads", PREVIEW)  # results, which a build replaces
SHOWN = (*OURS, TAG_SKIN)  # what is shown or hidden as one result at a time


def part_matrix(prepared: Prepared, mm: float) -> NDArray[np.float64]:
    """Where the parts of a prepared face stand, see `part_place`."""
    return part_place(prepared.scan_to_design, mm)


def commit_shape(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    prepared: Prepared,
    made: LiveShape,
    made_from: str = "",
) -> None:
    """Show the coarse shape; full parts are hidden while it is up, not removed.

    Parameters
    ----------
    made_from : print of what it was made from; empty for the inputs as they are.
    """
    made_from = made_from or inputs_print(context, wearer)
    from ..core.report.shown_parts import PART_COLOURS

    mesh = made.mesh
    shown = Part(PREVIEW, "preview", mesh.vertices, mesh.faces, smooth=False, colour=PART_COLOURS[0])
    commit_parts(context, wearer, [shown], part_matrix(prepared, wearer_mm(context, wearer)), made_from)
    _commit_line(context, wearer, prepared, made.seal_line, made_from)
    keep(made_from, made, part_matrix(prepared, wearer_mm(context, wearer)))
    show_only(context, wearer, (PREVIEW,))
    wearer.quality = "PREVIEW"


@dataclass(frozen=True)
class Built:
    """A finished design and what is shown of it: parts and maps, and the rows of its checks."""

    design: Design
    parts: list[Part]
    rows: list[CheckRow]


def built_steps(designing: Job[Design]) -> Job[Built]:
    """A design, and what is shown of it: measured here, beside the window, not while it is written."""
    from ..core.progress import Step
    from ..core.verdicts.rows import quick_rows

    made = yield from designing
    yield Step(0.98, "Laying out the maps")
    parts = printed_parts(made)
    if made.shell is not None:
        outer = made.shell.outer_side.reshape(-1, 3)
        parts.append(Part("quads", "body quads", outer, made.shell.quads))
    return Built(made, [*parts, *map_parts(made)], quick_rows(made))


def commit_design(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, built: Built) -> list[str]:
    """Write a finished design; names of hand-edited objects that were set aside.

    A job keeps everything from changing while it runs, so the inputs are still those it began with.
    """
    made = built.design
    place = part_matrix(made.prepared, wearer_mm(context, wearer))
    made_from = inputs_print(context, wearer)
    kept = commit_parts(context, wearer, built.parts, place, made_from, drop=OURS)
    keep(made_from, made, place, full=True)
    _commit_line(context, wearer, made.prepared, made.seal_line, made_from)
    show_only(context, wearer, shown_parts(wearer))
    _write_checks(wearer, built.rows, made, place)
    wearer.checks_from = made_from
    if made.seal_line is None:
        forget(wearer)
    else:
        judge(context, wearer, made.prepared, made.seal_line)
    wearer.headline = ""
    wearer.ways.clear()
    wearer.quality, wearer.parts = "FINAL", "|".join(made.parts)
    return kept


def printed_parts(made: Design) -> list[Part]:
    """The solids of a design, and the cushion that is made from a sheet or cast: shown, not exported."""
    from ..core.report.shown_parts import part_colour, worn_cushion

    names = tuple(made.parts)
    meshes = [(f"{PART}{name}", name, solid.mesh) for name, solid in made.parts.items()]
    worn = None if "liner" in made.parts else worn_cushion(made)
    if worn is not None:
        meshes.append((CUSHION, CUSHION, worn))
    return [
        Part(
            tag,
            name.replace("-", " "),
            mesh.vertices,
            mesh.faces,
            smooth=False,
            colour=part_colour(names, name),
            rendered=True,
        )
        for tag, name, mesh in meshes
    ]


def _commit_line(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    prepared: Prepared,
    line: SealLine | None,
    made_from: str,
) -> None:
    """Frame and landmarks, and the proposed line where the maker has not changed it and is not at it."""
    own = changed_points(context, wearer) is not None
    commit_face(context, wearer, prepared)
    drawn = seal_object(context, wearer)
    if line is not None and not own and (drawn is None or drawn.mode == "OBJECT"):
        propose_line(context, wearer, line, made_from)


def propose_line(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, line: SealLine, made_from: str
) -> None:
    """Draw a line as the proposal of inputs with this print."""
    obj = draw_seal_line(context, wearer, line.control, proposal=True)
    cache.touch()
    obj.data[FROM] = without_line(made_from)  # type: ignore[index]


def shown_parts(wearer: SEALWRIGHT_PG_wearer) -> tuple[str, ...]:
    """Tags of what is shown when no map is: the parts, and the cushion unless the maker hid it."""
    return (PART, CUSHION) if wearer.cushion_shown else (PART,)


def show_only(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, prefixes: tuple[str, ...]) -> None:
    """Show the results whose tag begins so and hide the others; scan, landmarks and line are left alone."""
    assert context.view_layer is not None
    for tag, obj in tagged(wearer, ""):
        if tag.startswith(SHOWN) and obj.name in context.view_layer.objects:
            obj.hide_set(not tag.startswith(prefixes))
    if not prefixes[0].startswith(("map:", TAG_SKIN)):
        plain_views(context)


def commit_examined(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, made: Made) -> None:
    """The judged numbers of the report in place of the quick checks, and the pressure map."""
    from ..core.verdicts.rows import check_rows

    place = part_matrix(made.design.prepared, wearer_mm(context, wearer))
    made_from = inputs_print(context, wearer)
    commit_parts(context, wearer, pressure_map(made), place, made_from)
    show_only(context, wearer, shown_parts(wearer))
    rows = check_rows(made.verdicts, made.design, made.examined.prediction)
    _write_checks(wearer, rows, made.design, place)
    wearer.checks_from = made_from
    wearer.headline = made.report["summary"]["headline"]
    wearer.ways.clear()
    for way in made.report["ways_up"] or ():
        wearer.ways.add().name = way["told"]


def _write_checks(
    wearer: SEALWRIGHT_PG_wearer, found: list[CheckRow], made: Design, place: NDArray[np.float64]
) -> None:
    """Checks and remarks as the panel shows them, with their places in the world."""
    wearer.checks.clear()
    for check in found:
        row = wearer.checks.add()
        row.name, row.key, row.verdict = check.label, check.key, check.verdict
        row.value, row.limit, row.reason, row.fix = check.value, check.limit, check.reason, check.fix
        row.has_point = check.spot is not None
        if check.spot is not None:
            row.map, row.point = check.spot.map, to_world(place, check.spot.point).tolist()
    wearer.remarks.clear()
    for remark in made.remarks:
        row = wearer.remarks.add()
        row.name, row.level = remark.text, remark.level

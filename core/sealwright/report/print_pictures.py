"""Pictures for the print: the body on its bed, and its overhang beside that of a wall without the limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..designing.design import Design
from ..designing.preview import live_shape
from ..errors import DesignError
from ..mesh import TriMesh
from ..predict.ways import WayUp
from ..printing.orientation import turning_up
from ..printing.plan import PrintPlan
from ..printing.printer import WAYS_UP
from ..progress import Job, Step, run_to_end
from ..render.camera import framed
from ..render.pictures import Picture, png_bytes, render, view_of
from ..render.scene import Scene, Shown
from .print_scene import RIBS_COLOUR, bed_under, overhang_legend, overhang_shown, print_scene

SIZE = (960, 720)
_HALF = (480, 720)
_THIRD = (480, 480)
_ON_BED = (0.62, -0.72, 0.12)
_FROM_BELOW = (0.45, -0.55, -0.7)


def print_pictures(
    design: Design, plans: Mapping[str, PrintPlan], ways: Sequence[WayUp] = ()
) -> Job[dict[str, bytes]]:
    """Pictures of the body as it prints, by file name, as a job of steps; none for a tube.

    "print-bed.png" shows it standing on the bed, "print-limit.png" from below: as it is on the left, on the
    right with the same recipe but a wall that is free of the overhang limit. The latter is missing where the
    recipe has no limit, or where the free wall cannot be built. "ways-up.png" has the ways up side by side.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    if design.recipe.kind != "body" or "body" not in plans:
        return {}
    plan, printer = plans["body"], design.recipe.printer
    yield Step(0.0, "Drawing the body on its bed")
    scene = print_scene(plan, printer, "As it prints")
    made = {"print-bed.png": png_bytes(render(scene, view_of(scene, _ON_BED, SIZE), SIZE))}
    if ways:
        yield Step(0.3, "Drawing the ways up")
        made["ways-up.png"] = png_bytes(ways_picture(plan, ways, printer.overhang_deg))
    yield Step(0.4, "Drawing the overhang")
    free = _free_body(design, plan)
    if free is not None:
        limit = printer.overhang_deg
        own = plan.mesh.moved(plan.placement)
        halves = [_from_below(own, limit, "With the limit"), _from_below(free, limit, "Without the limit")]
        made["print-limit.png"] = png_bytes(np.hstack(halves))
    return made


def ways_picture(plan: PrintPlan, ways: Sequence[WayUp], limit_deg: float) -> Picture:
    """The body in each way up on the bed, coloured by overhang; with its ribs where they are made."""
    return np.hstack([_way_picture(plan, one, limit_deg) for one in ways])


def _way_picture(plan: PrintPlan, one: WayUp, limit_deg: float) -> Picture:
    turn = turning_up(np.array(one.up))
    turn[2, 3] = -plan.mesh.moved(turn).bounds[0, 2]
    part = plan.mesh.moved(turn)
    ribs = [Shown(plan.ribs.moved(turn), RIBS_COLOUR)] if one.chosen and plan.ribs is not None else []
    title = WAYS_UP[one.way] + (", chosen" if one.chosen else "")
    shown = (overhang_shown(part), bed_under(part), *ribs)
    scene = Scene(shown, legend=overhang_legend(limit_deg), title=title)
    return render(scene, view_of(scene, _ON_BED, _THIRD), _THIRD)


def _free_body(design: Design, plan: PrintPlan) -> TriMesh | None:
    """The coarse body of the same recipe with a free wall, turned as it would print."""
    chamber = design.recipe.chamber
    if chamber.overhang != "limit" or design.seal_line is None or design.form is not None:
        return None
    recipe = replace(design.recipe, chamber=replace(chamber, overhang="free"))
    try:
        shape = run_to_end(live_shape(design.prepared, recipe, design.seal_line.control.tolist()))
    except DesignError:
        # The picture is a side remark: a free wall that cannot be is no reason to keep back the rest.
        return None
    turned = shape.body.moved(plan.orientation)
    down = np.eye(4)
    down[2, 3] = -turned.bounds[0, 2]
    return turned.moved(down)


def _from_below(part: TriMesh, limit_deg: float, title: str) -> Picture:
    """A part from below, without the bed, coloured by overhang."""
    scene = Scene((overhang_shown(part),), legend=overhang_legend(limit_deg), title=title)
    return render(scene, framed(_FROM_BELOW, scene.points, _HALF, False, right=0.3), _HALF)

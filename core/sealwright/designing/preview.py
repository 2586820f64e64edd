"""The shape while a value is dragged: shell, bosses and lugs laid over each other, without booleans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, shell_mesh
from ..hardware.allowance import allowance_of
from ..mesh import TriMesh, joined
from ..progress import Job, StageCache, Step, steps_within
from ..recipe import Recipe
from .design import _lug_stage, _port_stage, make_design
from .prepared import Prepared
from .seal_and_shape import laid_out
from .shape import QUALITY

_MERIDIANS = 8  # round the edges of a lug that is only looked at; a tenth of the points


@dataclass(frozen=True, eq=False)
class LiveShape:
    """What is shown while dragging, face frame, mm.

    Attributes
    ----------
    mesh : to look at only; parts run into each other and into the face.
    seal_line : the line it was laid along (None for a tube).
    shell : band and wall (None for a tube).
    stations : how many stations round the line, as in `shape.QUALITY`.
    """

    mesh: TriMesh
    seal_line: SealLine | None
    shell: Shell | None
    stations: int


def live_shape(
    prepared: Prepared,
    recipe: Recipe,
    seal_points: Sequence[Sequence[float]] | None = None,
    cache: StageCache | None = None,
) -> Job[LiveShape]:
    """The shape of a design in preview density, as a job of steps; repeats only what changed.

    Parameters
    ----------
    prepared, recipe, seal_points, cache : as for `design.make_design`.

    Raises
    ------
    DesignError : any refusal of a stage that takes part.
    """
    cache = cache if cache is not None else StageCache()
    stations = QUALITY["preview"].stations
    if recipe.kind == "tube":
        tube = yield from make_design(prepared, recipe, "preview", seal_points, cache)
        return LiveShape(tube.parts["tube"].mesh, None, None, stations)
    allowance = allowance_of(recipe.allowance)
    yield Step(0.1, "Building ports")
    port = _port_stage(prepared, recipe, allowance)
    laying = laid_out(prepared, recipe, port, "preview", seal_points, cache)
    line, shape = yield from steps_within(laying, 0.2, 0.9)
    shell, ports = shape.shell, [shape.port]
    yield Step(0.9, "Placing ports and lugs")
    straps, lugs = _lug_stage(shell, recipe, allowance, shape.port, cache, _MERIDIANS)
    added = [placed.parts.boss.mesh.moved(placed.frame) for placed in ports]
    added += [lug.solid.mesh.moved(place.frame) for lug, place in zip(lugs, straps, strict=True)]
    return LiveShape(joined(shell_mesh(shell), *added), line, shell, stations)

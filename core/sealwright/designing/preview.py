"""The shape while a value is dragged: a sketch with bosses, holders and lugs laid over it, not united."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..facepiece.body import Placed
from ..facepiece.seal_line import SealLine
from ..facepiece.shell import Shell, shell_mesh
from ..facepiece.strap_points import StrapPoint
from ..hardware.holder import holder_outside
from ..mesh import TriMesh, joined
from ..progress import Job, Step, steps_within
from ..recipe import Recipe
from ..recipe.decisions import holder_on
from ..stage_cache import StageCache
from .context import ChamberForm, Context, Points, context_of
from .design import make_design
from .prepared import Prepared
from .stages import further_ports, lug_stage

_MERIDIANS = 8  # round the edges of a lug that is only looked at; a tenth of the points


@dataclass(frozen=True, eq=False)
class LiveShape:
    """What is shown while dragging, face frame, mm.

    Attributes
    ----------
    body : to look at only; band, wall, bosses and lugs run into each other and into the face.
    holders : the outsides of what is screwed on.
    seal_line : the line it was laid along (None for a tube).
    shell : band and wall (None for a tube).
    stations : how many stations round the line, as in `context.QUALITIES`.
    ports, straps : where things are (none for a tube).
    """

    body: TriMesh
    seal_line: SealLine | None
    shell: Shell | None
    stations: int
    ports: tuple[Placed, ...] = ()
    straps: tuple[StrapPoint, ...] = ()
    holders: tuple[TriMesh, ...] = ()

    @property
    def mesh(self) -> TriMesh:
        """Body and holders."""
        return joined(self.body, *self.holders)


def live_shape(
    prepared: Prepared,
    recipe: Recipe,
    seal_points: Points | None = None,
    cache: StageCache | None = None,
    form: ChamberForm | None = None,
) -> Job[LiveShape]:
    """The shape of a sketch with its ports and lugs, as a job of steps; repeats only what changed.

    Parameters
    ----------
    prepared, recipe, seal_points, cache, form : as for `design.make_design`.

    Raises
    ------
    DesignError : any refusal of a stage that takes part.
    """
    context = context_of(prepared, recipe, "sketch", seal_points, cache)
    stations = context.quality.stations
    sketching = make_design(prepared, recipe, "sketch", seal_points, context.cache, form=form)
    made = yield from steps_within(sketching, 0.0, 0.9)
    if made.shell is None:
        return LiveShape(made.parts["tube"].mesh, None, None, stations)
    yield Step(0.9, "Placing ports and lugs")
    lugs = lug_stage(context, made.straps, _MERIDIANS)
    ports = [made.ports[0]]  # the exhalation valve has no place yet
    if made.shape is not None:
        ports += further_ports(context, made.shape, list(zip(lugs, made.straps, strict=True)))
    added = [placed.parts.boss.mesh.moved(placed.frame) for placed in ports]
    added += [lug.solid.mesh.moved(place.frame) for lug, place in zip(lugs, made.straps, strict=True)]
    body, holders = joined(shell_mesh(made.shell), *added), tuple(_holders(context, ports))
    return LiveShape(body, made.seal_line, made.shell, stations, tuple(ports), made.straps, holders)


def _holders(context: Context, ports: Sequence[Placed]) -> list[TriMesh]:
    """The outsides of the holders that are screwed on the ports, in place."""
    recipe, allowance = context.recipe, context.allowance
    seen = []
    for number, (place, placed) in enumerate(zip(recipe.ports, ports, strict=True)):
        settings = holder_on(recipe, number)
        if settings is not None:
            made = context.cache.call_as(f"{number}", holder_outside, settings, place.connection, allowance)
            seen.append(made.mesh.moved(placed.frame))
    return seen

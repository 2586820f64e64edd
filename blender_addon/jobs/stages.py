# SPDX-License-Identifier: GPL-3.0-or-later
"""From what lies in the scene to the core and back: the face on the scan, and the design on the face.

Results are kept for the session by the inputs they depend on, so that a step repeats only what changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from ..core.errors import Where
from ..model import cache
from ..model.clicks import clicks_of
from ..model.convert import object_to_trimesh
from ..model.fingerprint import about_patch, face_part, inputs_print
from ..model.identity import wearer_identity
from ..model.landmarks import moved_landmarks, place_landmarks
from ..model.placing import face_to_world, to_world
from ..model.recipe_text import recipe_of
from ..model.seal_curve import own_points
from ..model.units import check_size
from ..model.wearers import scan_of, tagged, wearer_mm
from ..view.commit import PLACE
from ..view.framing import frame_face
from ..view.messages import Refusal
from ..view.skin_map import drop_old_skin
from ..view.standing import PART
from .own_shapes import Given, given_shapes, is_own, own_design
from .share import patch_from, scan_to_patch

if TYPE_CHECKING:
    from collections.abc import Generator

    import bpy
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.designing.prepared import Prepared
    from ..core.designing.preview import LiveShape
    from ..core.export.identity import Identity
    from ..core.facepiece.chamber_cage import Cage
    from ..core.facepiece.seal_line import SealLine
    from ..core.jobs.make import Made
    from ..core.mesh import TriMesh
    from ..core.progress import Job, Step
    from ..core.recipe import Recipe
    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


T = TypeVar("T")
SAME_MM = 1e-4  # single precision of a coordinate at 100 mm, and of the world's frame, is a tenth of that


@dataclass(frozen=True)
class Inputs:
    """What a design depends on but scan and recipe: a print of all, and places in mm of the scan frame.

    Attributes
    ----------
    whole : print of everything.
    landmarks, clicks : moved landmarks and clicks, name -> (3,).
    line : (k, 3) control points of the maker's own seal line; None for the proposal.
    """

    whole: str
    landmarks: dict[str, Floats]
    clicks: dict[str, Floats]
    line: Floats | None

    @property
    def face(self) -> str:
        """Print of what the prepared face depends on."""
        return face_part(self.whole)


def gather_inputs(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Inputs:
    """What the scene holds, without copying the scan."""
    mm = wearer_mm(context, wearer)
    line = own_points(context, wearer)
    return Inputs(
        inputs_print(context, wearer),
        {name: point * mm for name, point in sorted(moved_landmarks(context, wearer).items())},
        {name: point * mm for name, point in clicks_of(wearer).items()},
        None if line is None else line * mm,
    )


def prepare_steps(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    recipe: Recipe,
    inputs: Inputs | None = None,
) -> Job[Prepared]:
    """Find the face on the scan, or take what this session already found for the same inputs."""
    inputs = inputs or gather_inputs(context, wearer)
    known: Prepared | None = cache.remembered("prepared", inputs.face)
    if known is not None:
        return _already(known)
    scan = scan_of(context, wearer)
    assert scan is not None
    mm = wearer_mm(context, wearer)
    mesh = object_to_trimesh(scan, context.evaluated_depsgraph_get(), mm)
    check_size(mesh, wearer.unit)
    given = {name: point.tolist() for name, point in inputs.landmarks.items()}
    if about_patch(scan):
        from ..core.designing.skin_patch import prepare_patch

        patch = patch_from(mesh, scan, mm)
        return _preparing(prepare_patch(patch, recipe, scan_to_patch(scan, mm), given), inputs.face)
    rough = {name: point.tolist() for name, point in inputs.clicks.items()}
    return _preparing(_prepared(mesh, recipe, given, rough, wearer.adult), inputs.face)


def _prepared(
    mesh: TriMesh,
    recipe: Recipe,
    given: dict[str, list[float]],
    rough: dict[str, list[float]],
    adult: bool,
) -> Job[Prepared]:
    """The core's own job; its libraries are loaded where it works, not where the window waits."""
    from ..core.designing.prepare import prepare

    return (yield from prepare(mesh, recipe, given or None, rough=rough, adult=adult))


def _already(known: T) -> Generator[Step, None, T]:
    yield from ()
    return known


def _preparing(preparing: Job[Prepared], key: str) -> Job[Prepared]:
    made = yield from preparing
    cache.remember("prepared", key, made)
    return made


def commit_face(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, made: Prepared) -> int:
    """Write frame and landmarks of a prepared face; how many landmarks the maker's hand keeps.

    The first time, the views are turned to the face.
    """
    matrix = face_to_world(made.scan_to_design, wearer_mm(context, wearer))
    if not wearer.prepared:
        frame_face(context, matrix)
    wearer.face_to_world = matrix.ravel().tolist()
    wearer.prepared, wearer.face_from = True, face_part(inputs_print(context, wearer))
    wearer.pose_sure = made.pose_confidence  # 1 for a shared patch, which brings its pose along
    wearer.found.clear()
    for remark in made.remarks:
        row = wearer.found.add()
        row.name, row.level = remark.text, remark.level
    drop_old_skin(wearer, made)
    points = {name: to_world(matrix, point) for name, point in made.landmarks.items()}
    return place_landmarks(context, wearer, points, made.confidence)


def stage_cache(key: str) -> Any:
    """The core's own cache of stages for one prepared face."""
    from ..core.stage_cache import StageCache

    kept = cache.remembered("stages", key)
    if kept is None:
        kept = StageCache()
        cache.remember("stages", key, kept)
    return kept


def line_on(prepared: Prepared, inputs: Inputs) -> list[list[float]] | None:
    """The maker's own control points in the frame of a prepared face, mm, or None for the proposal."""
    own = None if inputs.line is None else to_world(prepared.scan_to_design, inputs.line)
    return None if own is None else own.tolist()


def design_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[Design]:
    """Gather now, then prepare (when something changed) and design in full quality, as one job."""
    recipe = recipe_of(wearer)
    inputs, given = gather_inputs(context, wearer), given_shapes(context, wearer)
    return _designing(prepare_steps(context, wearer, recipe, inputs), inputs, recipe, given)


def _designing(preparing: Job[Prepared], inputs: Inputs, recipe: Recipe, given: Given) -> Job[Design]:
    from ..core.designing.context import OwnShape
    from ..core.predict.designed import design

    known: Design | None = cache.remembered("design", inputs.whole)
    if known is not None:
        return known
    prepared = yield from preparing
    if is_own(recipe):
        made = yield from own_design(prepared, recipe, given)
    else:
        line, kept = line_on(prepared, inputs), stage_cache(inputs.face)
        shaped = OwnShape(given.form(prepared), given.cuts(prepared))
        made = yield from design(prepared, recipe, "final", line, kept, shaped)
    cache.remember("design", inputs.whole, made)
    return made


def made_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, tries: bool = False) -> Job[Made]:
    """As `design_steps`, then examine: soundness, print plans, prediction, report, all files' contents.

    Parameters
    ----------
    tries : wear remedies and the bare band too, which takes longer than all the rest.
    """
    recipe = recipe_of(wearer)
    identity = wearer_identity(context, wearer, recipe, inputs_print(context, wearer))
    return _finishing(design_steps(context, wearer), identity, tries)


def _finishing(designing: Job[Design], identity: Identity, tries: bool = False) -> Job[Made]:
    """Examine once for the same inputs; what was made with remedies serves those who want none as well."""
    from ..core.jobs.make import finish, with_remedies

    whole = repr(identity)
    made: Made | None = cache.remembered("made", whole)
    if made is None:
        design = yield from designing
        made = yield from finish(design, pictures=False, identity=identity, tries=False)
    if tries:
        made = yield from with_remedies(made)
    cache.remember("made", whole, made)
    return made


def shown_steps(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    hands: tuple[str, ...],
    leave_out: bool,
) -> Job[Made]:
    """What the file shows, examined: the parts as they were built, those changed by hand as they are or not.

    Parameters
    ----------
    hands : parts that were changed by hand.
    leave_out : these are left out, instead of taken as they are.

    Raises
    ------
    Refusal : what would be built now is not what stands in the file.
    """
    recipe = recipe_of(wearer)
    identity = wearer_identity(context, wearer, recipe, inputs_print(context, wearer))
    shown = {name: part_mesh(context, wearer, name) for name in wearer.parts.split("|")}
    return _as_shown(design_steps(context, wearer), identity, shown, hands, leave_out)


def _as_shown(
    designing: Job[Design],
    identity: Identity,
    shown: dict[str, TriMesh],
    hands: tuple[str, ...],
    leave_out: bool,
) -> Job[Made]:
    from ..core.designing.edited import with_edited, without_parts
    from ..core.jobs.make import finish

    design = yield from designing
    for name, mesh in shown.items():
        built = design.parts.get(name)
        if name not in hands and (built is None or not same_surface(mesh, built.mesh)):
            raise Refusal(
                f"The {name} in the file is not what these values build now.",
                Where("part", key=name),
                "It was built by another version: build all parts again (Body panel).",
            )
    if not hands:
        return (yield from _finishing(_already(design), identity))
    if leave_out:
        design = without_parts(design, hands)
    else:
        design = with_edited(design, {name: shown[name] for name in hands})
    return (yield from finish(design, pictures=False, identity=identity, tries=False))


def same_surface(one: TriMesh, other: TriMesh) -> bool:
    """Whether two meshes have the same triangles, and corners nearer than `SAME_MM`."""
    same = one.vertices.shape == other.vertices.shape and np.array_equal(one.faces, other.faces)
    return bool(same and np.abs(one.vertices - other.vertices).max() < SAME_MM)


def part_mesh(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, name: str) -> TriMesh:
    """A standing part as it is seen, in the face frame, mm.

    Raises
    ------
    InEditMode : it is being edited.
    """
    (obj,) = (obj for tag, obj in tagged(wearer, PART) if tag == name)
    mm = wearer_mm(context, wearer)
    mesh = object_to_trimesh(obj, context.evaluated_depsgraph_get(), mm, name)
    place = np.array(obj.data[PLACE], dtype=np.float64).reshape(4, 4)  # type: ignore[index]
    place[:3, 3] *= mm
    return mesh.moved(np.linalg.inv(place))


def shape_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[tuple[Prepared, LiveShape]]:
    """Gather now, then prepare (when something changed) and lay out the coarse shape, as one job."""
    recipe = recipe_of(wearer)
    inputs, given = gather_inputs(context, wearer), given_shapes(context, wearer)
    return _shaping(prepare_steps(context, wearer, recipe, inputs), inputs, recipe, given)


def _shaping(
    preparing: Job[Prepared], inputs: Inputs, recipe: Recipe, given: Given
) -> Job[tuple[Prepared, LiveShape]]:
    from ..core.designing.preview import live_shape

    prepared = yield from preparing
    line, kept = line_on(prepared, inputs), stage_cache(inputs.face)
    made = yield from live_shape(prepared, recipe, line, kept, given.form(prepared))
    return prepared, made


def cage_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[tuple[Prepared, Cage]]:
    """Gather now, then lay out the chamber as the program does, and take its cage, as one job.

    The cage is that of the parts in full quality where this session built them, whose port may stand
    further out than that of a sketch.
    """
    recipe, inputs = recipe_of(wearer), gather_inputs(context, wearer)
    return _caging(prepare_steps(context, wearer, recipe, inputs), inputs, recipe)


def _caging(preparing: Job[Prepared], inputs: Inputs, recipe: Recipe) -> Job[tuple[Prepared, Cage]]:
    from ..core.designing.design import make_design
    from ..core.facepiece.chamber_cage import cage_of

    prepared = yield from preparing
    line, kept = line_on(prepared, inputs), stage_cache(inputs.face)
    made: Design | None = cache.remembered("design", inputs.whole)
    if made is None or made.form is not None:
        made = yield from make_design(prepared, recipe, "sketch", line, kept)
    assert made.shape is not None
    return prepared, cage_of(made.shape.wall, recipe.chamber.wall_mm)


def line_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[tuple[Prepared, SealLine]]:
    """Prepare when something changed, then propose the seal line."""
    recipe = recipe_of(wearer)
    return _lining(prepare_steps(context, wearer, recipe), recipe)


def _lining(preparing: Job[Prepared], recipe: Recipe) -> Job[tuple[Prepared, SealLine]]:
    from ..core.designing.context import QUALITIES
    from ..core.facepiece.line_on_skin import LineAsked, line_on_skin
    from ..core.progress import Step

    prepared = yield from preparing
    yield Step(0.9, "Laying the seal line")
    stations = QUALITIES["final"].stations  # measured as in a full build
    asked = LineAsked(recipe.seal_line, stations, recipe.band.reach)
    return prepared, line_on_skin(prepared.face, prepared.landmarks, asked)


def prepared_now(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Prepared:
    """The prepared face, found again when this session does not know it (after a file was opened)."""
    from ..core.progress import run_to_end

    return run_to_end(prepare_steps(context, wearer, recipe_of(wearer)))

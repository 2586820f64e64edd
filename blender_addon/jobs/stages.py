# SPDX-License-Identifier: GPL-3.0-or-later
"""From what lies in the scene to the core and back: the face on the scan, and the design on the face.

Results are kept for the session by the inputs they depend on, so that a step repeats only what changed.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..model import cache
from ..model.clicks import clicks_of
from ..model.convert import geometry_stamp, matrix_array, object_to_trimesh
from ..model.identity import wearer_identity
from ..model.landmarks import moved_landmarks, place_landmarks
from ..model.placing import face_to_world, to_world
from ..model.recipe_text import recipe_of
from ..model.seal_curve import changed_points
from ..model.units import check_size
from ..model.wearers import scan_of, wearer_mm
from ..view.skin_map import drop_old_skin
from .share import about_patch, patch_from, scan_to_patch

if TYPE_CHECKING:
    from collections.abc import Generator

    import bpy
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.designing.prepared import Prepared
    from ..core.designing.preview import LiveShape
    from ..core.export.identity import Identity
    from ..core.facepiece.seal_line import SealLine
    from ..core.jobs.make import Made
    from ..core.progress import Job, Step
    from ..core.recipe import Recipe
    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class FaceInputs:
    """What a prepared face depends on: a key, and moved landmarks and clicks in mm of the scan frame."""

    key: str
    landmarks: dict[str, Floats]
    clicks: dict[str, Floats]


def face_inputs(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, recipe: Recipe) -> FaceInputs:
    """The inputs of `prepare_steps`, without copying the scan."""
    scan = scan_of(context, wearer)
    assert scan is not None
    seen = scan.evaluated_get(context.evaluated_depsgraph_get())
    mm = wearer_mm(context, wearer)
    moved = {name: point * mm for name, point in sorted(moved_landmarks(context, wearer).items())}
    clicks = {name: point * mm for name, point in clicks_of(wearer).items()}
    parts = [geometry_stamp(seen.data), matrix_array(seen.matrix_world).tobytes().hex(), repr(mm)]  # type: ignore[arg-type]
    parts += [
        about_patch(scan),
        repr(recipe.scan),
        repr(wearer.adult),
        *(repr([(name, point.tolist()) for name, point in points.items()]) for points in (moved, clicks)),
    ]
    return FaceInputs(hashlib.sha256("\n".join(parts).encode()).hexdigest()[:24], moved, clicks)


def prepare_steps(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    recipe: Recipe,
    inputs: FaceInputs | None = None,
) -> Job[Prepared]:
    """Find the face on the scan, or take what this session already found for the same inputs."""
    inputs = inputs or face_inputs(context, wearer, recipe)
    known: Prepared | None = cache.remembered("prepared", inputs.key)
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
        return _preparing(prepare_patch(patch, recipe, scan_to_patch(scan, mm), given), inputs.key)
    from ..core.designing.prepare import prepare

    rough = {name: point.tolist() for name, point in inputs.clicks.items()}
    return _preparing(prepare(mesh, recipe, given or None, rough=rough, adult=wearer.adult), inputs.key)


def _already(known: Prepared) -> Generator[Step, None, Prepared]:
    yield from ()
    return known


def _preparing(preparing: Job[Prepared], key: str) -> Job[Prepared]:
    made = yield from preparing
    cache.remember("prepared", key, made)
    return made


def commit_face(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, made: Prepared) -> int:
    """Write frame and landmarks of a prepared face; how many landmarks the maker's hand keeps."""
    matrix = face_to_world(made.scan_to_design, wearer_mm(context, wearer))
    wearer.face_to_world = matrix.ravel().tolist()
    wearer.prepared = True
    wearer.pose_sure = made.pose_confidence  # 1 for a shared patch, which brings its pose along
    wearer.found.clear()
    for remark in made.remarks:
        row = wearer.found.add()
        row.name, row.level = remark.text, remark.level
    cache.remember("shown", str(wearer.number), made)  # what the marks on the seal line look at
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


def design_key(face_key: str, recipe: Recipe, points: Floats | None) -> str:
    """What a design depends on."""
    return f"{face_key}|{recipe!r}|{None if points is None else points.tolist()}"


def design_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[Design]:
    """Gather now, then prepare (when something changed) and design in full quality, as one job."""
    recipe = recipe_of(wearer)
    inputs = face_inputs(context, wearer, recipe)
    preparing = prepare_steps(context, wearer, recipe, inputs)
    return _designing(preparing, inputs.key, recipe, changed_points(context, wearer))


def _designing(preparing: Job[Prepared], key: str, recipe: Recipe, points: Floats | None) -> Job[Design]:
    from ..core.designing.prepare import design

    whole = design_key(key, recipe, points)
    known: Design | None = cache.remembered("design", whole)
    if known is not None:
        return known
    prepared = yield from preparing
    own = None if points is None else points.tolist()
    made = yield from design(prepared, recipe, "final", own, stage_cache(key))
    cache.remember("design", whole, made)
    return made


def made_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[Made]:
    """As `design_steps`, then examine: soundness, print plans, prediction, report, all files' contents."""
    recipe = recipe_of(wearer)
    options = design_key(face_inputs(context, wearer, recipe).key, recipe, changed_points(context, wearer))
    return _finishing(design_steps(context, wearer), wearer_identity(context, wearer, recipe, options))


def _finishing(designing: Job[Design], identity: Identity) -> Job[Made]:
    from ..core.jobs.make import finish

    whole = repr(identity)
    known: Made | None = cache.remembered("made", whole)
    if known is not None:
        return known
    design = yield from designing
    made = yield from finish(design, pictures=False, identity=identity)
    cache.remember("made", whole, made)
    return made


def shape_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[tuple[Prepared, LiveShape]]:
    """Gather now, then prepare (when something changed) and lay out the coarse shape, as one job."""
    recipe = recipe_of(wearer)
    inputs = face_inputs(context, wearer, recipe)
    preparing = prepare_steps(context, wearer, recipe, inputs)
    return _shaping(preparing, inputs.key, recipe, changed_points(context, wearer))


def _shaping(
    preparing: Job[Prepared], key: str, recipe: Recipe, points: Floats | None
) -> Job[tuple[Prepared, LiveShape]]:
    from ..core.designing.preview import live_shape

    prepared = yield from preparing
    own = None if points is None else points.tolist()
    made = yield from live_shape(prepared, recipe, own, stage_cache(key))
    return prepared, made


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

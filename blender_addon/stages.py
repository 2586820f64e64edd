# SPDX-License-Identifier: GPL-3.0-or-later
"""From what lies in the scene to the core and back: the face on the scan, and the design on the face.

Results are kept for the session by the inputs they depend on, so that a step repeats only what changed.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from . import cache
from .commit import Part, commit_parts
from .convert import geometry_stamp, matrix_array, object_to_trimesh
from .landmarks import moved_landmarks, place_landmarks
from .placing import face_to_world, rigid_part, to_world
from .props import to_data
from .seal_curve import changed_points, draw_seal_line
from .units import check_size
from .wearers import active_wearer, scan_of, wearer_mm

if TYPE_CHECKING:
    from collections.abc import Generator

    import bpy
    from numpy.typing import NDArray

    from .core.design import Design
    from .core.facepiece.seal_line import SealLine
    from .core.prepared import Prepared
    from .core.progress import Job, Step
    from .core.recipe import Recipe
    from .wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


LINE_STATIONS = 192  # points the proposed line is measured with, as in a full build


@dataclass(frozen=True)
class FaceInputs:
    """What a prepared face depends on: a key, and the moved landmarks in mm of the scan frame."""

    key: str
    landmarks: dict[str, Floats]


def recipe_of(wearer: SEALWRIGHT_PG_wearer) -> Recipe:
    """The wearer's recipe as the core checks it; the scan comes in mm, whatever its file was in."""
    from .core.recipe import recipe_from_json

    made = recipe_from_json(to_data(wearer.recipe))
    return replace(made, scan=replace(made.scan, unit="mm"))


def gather_wearer(context: bpy.types.Context) -> SEALWRIGHT_PG_wearer:
    """The active wearer; operators ask for it in their poll."""
    wearer = active_wearer(context)
    assert wearer is not None
    return wearer


def face_inputs(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, recipe: Recipe) -> FaceInputs:
    """The inputs of `prepare_steps`, without copying the scan."""
    scan = scan_of(context, wearer)
    assert scan is not None
    seen = scan.evaluated_get(context.evaluated_depsgraph_get())
    mm = wearer_mm(context, wearer)
    moved = {name: point * mm for name, point in sorted(moved_landmarks(context, wearer).items())}
    parts = [geometry_stamp(seen.data), matrix_array(seen.matrix_world).tobytes().hex(), repr(mm)]  # type: ignore[arg-type]
    parts += [repr(recipe.scan), repr([(name, point.tolist()) for name, point in moved.items()])]
    return FaceInputs(hashlib.sha256("\n".join(parts).encode()).hexdigest()[:24], moved)


def prepare_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, recipe: Recipe) -> Job[Prepared]:
    """Find the face on the scan, or take what this session already found for the same inputs."""
    inputs = face_inputs(context, wearer, recipe)
    known: Prepared | None = cache.remembered("prepared", inputs.key)
    if known is not None:
        return _already(known)
    scan = scan_of(context, wearer)
    assert scan is not None
    mesh = object_to_trimesh(scan, context.evaluated_depsgraph_get(), wearer_mm(context, wearer))
    check_size(mesh, wearer.unit)
    return _preparing(mesh, recipe, inputs)


def _already(known: Prepared) -> Generator[Step, None, Prepared]:
    yield from ()
    return known


def _preparing(mesh: Any, recipe: Recipe, inputs: FaceInputs) -> Job[Prepared]:
    from .core.pipeline import prepare  # type: ignore[import-not-found]

    given = {name: point.tolist() for name, point in inputs.landmarks.items()}
    made: Prepared = yield from prepare(mesh, recipe, given or None)
    cache.remember("prepared", inputs.key, made)
    return made


def commit_face(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, made: Prepared) -> int:
    """Write frame and landmarks of a prepared face; how many landmarks the maker's hand keeps."""
    matrix = face_to_world(made.scan_to_design, wearer_mm(context, wearer))
    wearer.face_to_world = matrix.ravel().tolist()
    wearer.prepared = True
    points = {name: to_world(matrix, point) for name, point in made.landmarks.items()}
    return place_landmarks(context, wearer, points, made.confidence)


def stage_cache(key: str) -> Any:
    """The core's own cache of stages for one prepared face."""
    from .core.progress import StageCache

    kept = cache.remembered("stages", key)
    if kept is None:
        kept = StageCache()
        cache.remember("stages", key, kept)
    return kept


def design_steps(
    context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, quality: str
) -> Job[tuple[Prepared, Design]]:
    """Gather now, then prepare (when something changed) and design, as one job."""
    recipe = recipe_of(wearer)
    inputs = face_inputs(context, wearer, recipe)
    preparing = prepare_steps(context, wearer, recipe)
    points = changed_points(context, wearer)
    return _designing(preparing, inputs.key, recipe, quality, points)


def _designing(
    preparing: Job[Prepared], key: str, recipe: Recipe, quality: str, points: Floats | None
) -> Job[tuple[Prepared, Design]]:
    from .core.design import make_design

    prepared = yield from preparing
    own = None if points is None else points.tolist()
    made = yield from make_design(prepared, recipe, quality, own, stage_cache(key))
    return prepared, made


def commit_design(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    prepared: Prepared,
    made: Design,
    quality: str,
) -> list[str]:
    """Write a design's parts; names of hand-edited objects that were set aside."""
    matrix = face_to_world(prepared.scan_to_design, wearer_mm(context, wearer))
    commit_face(context, wearer, prepared)
    if made.seal_line is not None and changed_points(context, wearer) is None:
        draw_seal_line(context, wearer, made.seal_line.control, proposal=True)
    size = 1.0 / wearer_mm(context, wearer)  # parts at their printed size, also when the face is scaled
    place = rigid_part(matrix)
    place[:3, :3] *= size
    kept = commit_parts(context, wearer, parts_of(made, quality), place, drop="part:")
    wearer.quality, wearer.stale = quality.upper(), False
    wearer.facts = json.dumps(made.facts, default=float) if quality == "final" else ""
    return kept


def parts_of(made: Design, quality: str) -> list[Part]:
    """What a design shows in the viewport."""
    if quality == "preview":
        solid = next(iter(made.parts.values()))
        return [Part("preview", "preview", solid.mesh.vertices, solid.mesh.faces, smooth=False)]
    return [
        Part(f"part:{name}", name.replace("-", " "), solid.mesh.vertices, solid.mesh.faces, smooth=False)
        for name, solid in made.parts.items()
    ]


def preview_now(context: bpy.types.Context) -> None:
    """Build and show the coarse body of the active wearer at once.

    Raises
    ------
    DesignError : any refusal; nothing was changed.
    """
    from .core.progress import run_to_end

    wearer = gather_wearer(context)
    prepared, made = run_to_end(design_steps(context, wearer, "preview"))
    commit_design(context, wearer, prepared, made, "preview")


def line_steps(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Job[tuple[Prepared, SealLine]]:
    """Prepare when something changed, then propose the seal line."""
    recipe = recipe_of(wearer)
    return _lining(prepare_steps(context, wearer, recipe), recipe)


def _lining(preparing: Job[Prepared], recipe: Recipe) -> Job[tuple[Prepared, SealLine]]:
    from .core.facepiece.seal_line import seal_line
    from .core.progress import Step

    prepared = yield from preparing
    yield Step(0.9, "Laying the seal line")
    return prepared, seal_line(prepared.face, prepared.landmarks, recipe.seal_line, LINE_STATIONS)


def prepared_now(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Prepared:
    """The prepared face, found again when this session does not know it (after a file was opened)."""
    from .core.progress import run_to_end

    return run_to_end(prepare_steps(context, wearer, recipe_of(wearer)))

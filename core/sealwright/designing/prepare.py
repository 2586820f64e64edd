"""The pipeline: scan to prepared face, prepared face to design. Both are jobs of steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..errors import Remark
from ..face.surface import FaceSurface, face_chart, face_surface
from ..mesh import Floats, TriMesh, at_all_corners
from ..progress import Job, Step, run_to_end
from ..recipe import Recipe
from ..scan.landmarks.face_frame import face_frame
from ..scan.landmarks.face_size import face_size
from ..scan.landmarks.landmark_set import Landmarks
from ..scan.landmarks.proposal import propose_landmarks
from ..scan.pose.orient import find_face
from ..scan.pose.pose import outward
from ..scan.pose.pose_fallback import pose_from_landmarks
from ..scan.reference.scale import Scale, in_millimetres, scale_of
from ..scan.repair.clean import clean
from ..stage_cache import StageCache
from .design import Design
from .design import make_design as design
from .plausible import plausible_of
from .prepared import Prepared

_CROP_MM = 150.0  # skin further from the middle of the head takes no part


def prepare(
    scan: TriMesh,
    recipe: Recipe,
    landmarks: Mapping[str, Sequence[float]] | None = None,
    scale: Scale | None = None,
    rough: Mapping[str, Sequence[float]] | None = None,
    adult: bool = False,
) -> Job[Prepared]:
    """Prepare a scan, as a job of steps.

    Parameters
    ----------
    scan : the scan in its own unit and pose.
    recipe : its scan section is used.
    landmarks : name -> (x, y, z) in scan coordinates; they replace the proposals of the same name.
    scale : a scale measured on the scan (known length, reference object); None takes the recipe's unit.
    rough : as landmarks, but clicked in haste: they give the pose only, and replace no proposal.
    adult : the maker says, for this run, that a very small face is an adult's.

    Raises
    ------
    NotForChildren : the face is smaller than any adult's, and ``adult`` is not said.
    ImplausibleSize, NotAFace, LandmarkMissing, ClosedSolid : see the stages.
    """
    yield Step(0.05, "Checking the unit")
    scale = scale or scale_of(scan, recipe.scan.unit)
    mesh = in_millimetres(scan, scale)
    yield Step(0.15, "Cleaning the scan")
    mesh, cleaned = clean(mesh)
    yield Step(0.3, "Finding the face")
    given = {
        name: np.asarray(point, dtype=np.float64) * scale.mm_per_unit
        for name, point in (landmarks or {}).items()
    }
    hinted = {
        name: np.asarray(point, dtype=np.float64) * scale.mm_per_unit for name, point in (rough or {}).items()
    }
    pose = pose_from_landmarks(mesh, hinted | given) or find_face(mesh)
    whole, mesh = mesh, outward(mesh, pose)
    yield Step(0.5, "Finding landmarks")
    marks = propose_landmarks(mesh, pose).with_given(given, mesh)
    yield Step(0.6, "Looking for what cannot be right")
    factor = recipe.scan.wearer_scale
    plausible = plausible_of(whole, mesh, pose, marks, wearer_scale=factor, adult=adult)
    yield Step(0.7, "Laying out the face surface")
    made = _prepared(mesh, marks, scale, recipe, (*scale.remarks, *cleaned.remarks, *pose.remarks))
    return replace(made, pose_confidence=pose.confidence, plausible=plausible)


def _prepared(
    mesh: TriMesh, marks: Landmarks, scale: Scale, recipe: Recipe, remarks: tuple[Remark, ...]
) -> Prepared:
    """Move everything into the face frame and resample the skin."""
    wearer = np.diag([recipe.scan.wearer_scale] * 3 + [1.0])
    to_face = wearer @ face_frame(marks)
    points = {name: to_face[:3, :3] @ mark.point + to_face[:3, 3] for name, mark in marks.by_name.items()}
    size = face_size(points)
    chart = face_chart(size)
    skin = _cropped(mesh.moved(to_face), chart.centre, _CROP_MM * size)
    face: FaceSurface = face_surface(skin, chart, recipe.scan.fill_mm, recipe.scan.smoothing_mm)
    scan_to_design = to_face @ np.diag([scale.mm_per_unit] * 3 + [1.0])
    return Prepared(
        face=face,
        landmarks=points,
        confidence={name: mark.confidence for name, mark in marks.by_name.items()},
        scan_to_design=scan_to_design,
        unit=scale.unit,
        mm_per_unit=scale.mm_per_unit,
        wearer_scale=recipe.scan.wearer_scale,
        skin=skin,
        remarks=(*remarks, *marks.remarks, *face.remarks),
    )


def _cropped(mesh: TriMesh, centre: Floats, reach_mm: float) -> TriMesh:
    """The triangles within reach of the middle of the head."""
    near = np.linalg.norm(mesh.vertices - centre, axis=1) < reach_mm
    return mesh.submesh(at_all_corners(near, mesh.faces))


__all__ = ["Design", "Prepared", "StageCache", "Step", "design", "prepare", "run_to_end"]

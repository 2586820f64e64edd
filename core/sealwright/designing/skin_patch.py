"""The patch of skin that a design stands on: cut out to be shared, and prepared again without the rest.

A patch is too small for the face to be found on it. It therefore lies in the face frame already and brings
its landmarks along; preparing it lays out the face surface and finds nothing anew. Round the true skin lies
a collar of blurred skin: band and seal line are laid on smoothed skin, which is only the same when there is
something to smooth beyond the patch. The collar shows no eyelids and no pores, and no seal may lie on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TypedDict

import numpy as np
from scipy.spatial import ConvexHull, cKDTree

from ..errors import NoSurface, Where
from ..face.rasterise import scan_on_chart
from ..face.surface import FaceSurface, face_chart, face_surface, sheet_mesh
from ..mesh import Floats, TriMesh, at_all_corners, joined
from ..progress import Job, Step
from ..recipe import Recipe
from ..scan.landmarks.face_frame import face_frame
from ..scan.landmarks.face_size import face_size
from ..scan.landmarks.landmark_set import Landmark, Landmarks
from ..solids.polygon import closed_edges, inside_edges
from .design import Design
from .prepared import Prepared

MARGIN_MM = 12.0  # true skin outside the free edge: three standard deviations of the smoothing over 4 mm
COLLAR_MM = 28.0  # the collar ends here; the smoothing, cut off at four deviations, sees no further
_COLLAR_STEP = 3  # pixels of the chart per point of the collar: about 2 mm, plenty for blurred skin


@dataclass(frozen=True, eq=False)
class _PatchSurface(FaceSurface):
    """A face surface whose pixels count as large as on the whole scan, so that it is smoothed as far."""

    typical_mm: float = 75.0

    @cached_property
    def pitch_mm(self) -> float:
        """Typical size of a pixel on the skin of the whole scan, mm."""
        return self.chart.pitch_rad * self.typical_mm


class PatchFacts(TypedDict):
    """What is known of a patch besides its mesh, as plain data; fields as those of `SkinPatch`."""

    true_faces: int
    landmarks: dict[str, list[float]]
    confidence: dict[str, float]
    noise_mm: float
    smoothing_mm: float | None
    typical_mm: float


@dataclass(frozen=True, eq=False)
class SkinPatch:
    """A patch of skin in the face frame, at the wearer's own size.

    Attributes
    ----------
    mesh : the skin and its collar, mm.
    true_faces : how many triangles, from the first, are true skin; the others are the collar.
    landmarks : name -> (3,) mm; they may lie beside the patch.
    confidence : name -> 0 to 1.
    noise_mm : noise of the scan that it was cut from.
    smoothing_mm : bound of the smoothing that this noise gave; None where the recipe had fixed it.
    typical_mm : middle distance of the whole scan's skin from the chart's centre; sizes are taken from it.
    """

    mesh: TriMesh
    true_faces: int
    landmarks: Mapping[str, Floats]
    confidence: Mapping[str, float]
    noise_mm: float
    smoothing_mm: float | None
    typical_mm: float

    @property
    def skin(self) -> TriMesh:
        """The true skin alone."""
        return self.mesh.submesh(np.arange(len(self.mesh.faces)) < self.true_faces)

    def about(self) -> PatchFacts:
        """Everything but the mesh, as plain data for `patch_of`."""
        return {
            "true_faces": self.true_faces,
            "landmarks": {name: [float(c) for c in point] for name, point in self.landmarks.items()},
            "confidence": {name: float(sure) for name, sure in self.confidence.items()},
            "noise_mm": self.noise_mm,
            "smoothing_mm": self.smoothing_mm,
            "typical_mm": self.typical_mm,
        }


def patch_of(mesh: TriMesh, about: PatchFacts) -> SkinPatch:
    """A patch from its mesh and what `SkinPatch.about` said of it."""
    marks = {name: np.array(point, dtype=np.float64) for name, point in about["landmarks"].items()}
    bound = about["smoothing_mm"]
    return SkinPatch(
        mesh,
        int(about["true_faces"]),
        marks,
        dict(about["confidence"]),
        float(about["noise_mm"]),
        None if bound is None else float(bound),
        float(about["typical_mm"]),
    )


def skin_patch(design: Design, margin_mm: float = MARGIN_MM) -> SkinPatch:
    """The skin under a design, a margin of it round the free edge, and the blurred collar.

    Parameters
    ----------
    design : a finished design.
    margin_mm : how much true skin outside the free edge is kept.

    Raises
    ------
    NoSurface : no skin lies under the design.
    """
    prepared, rim = design.prepared, cKDTree(_rim(design))
    loop = prepared.face.chart.place_of(rim.data)[0]
    skin = prepared.skin
    inside = inside_edges(prepared.face.chart.place_of(skin.vertices)[0], closed_edges(loop))
    keep = inside | (rim.query(skin.vertices, distance_upper_bound=margin_mm)[0] < margin_mm)
    whole_faces = at_all_corners(keep, skin.faces)
    if not whole_faces.any():
        raise NoSurface("No skin lies under the mask.", Where("scan"), "Build the parts again.")
    piece = skin.submesh(whole_faces)
    whole = joined(piece, _collar(prepared.face, rim, loop, margin_mm))
    own_size = 1.0 / prepared.wearer_scale
    return SkinPatch(
        TriMesh(whole.vertices * own_size, whole.faces),
        len(piece.faces),
        {name: np.asarray(point) * own_size for name, point in prepared.landmarks.items()},
        dict(prepared.confidence),
        prepared.face.noise_mm * own_size,
        None if design.recipe.scan.smoothing_mm is not None else prepared.face.smoothing.bound_mm,
        prepared.face.pitch_mm / prepared.face.chart.pitch_rad * own_size,
    )


def _rim(design: Design) -> Floats:
    """The outline (n, 3) of what stands on the skin, in order, mm, on the skin."""
    face = design.prepared.face
    if design.shell is not None:
        return face.drop_on_skin(design.shell.face_side[:, 0])
    pq, _ = face.chart.place_of(next(iter(design.parts.values())).mesh.vertices)
    hull = pq[ConvexHull(pq).vertices]
    share = np.linspace(0.0, 1.0, 24, endpoint=False)[:, None]
    sides = [a + share * (b - a) for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True)]
    return face.skin_at(np.vstack(sides))


def _collar(face: FaceSurface, rim: cKDTree, loop: Floats, margin_mm: float) -> TriMesh:
    """Blurred skin between the margin and the collar's end."""
    pq, _ = face.chart.place_of(face.thinned(_COLLAR_STEP).points)
    points = face.skin_at(pq, smooth=True)
    away, _ = rim.query(points, distance_upper_bound=COLLAR_MM)
    inside = inside_edges(pq, closed_edges(loop))
    return sheet_mesh(points, face.is_known(pq) & ~inside & (away > margin_mm) & (away < COLLAR_MM))


def prepare_patch(
    patch: SkinPatch,
    recipe: Recipe,
    scan_to_patch: Floats,
    landmarks: Mapping[str, Sequence[float]] | None = None,
) -> Job[Prepared]:
    """Prepare a patch, as a job of steps.

    Parameters
    ----------
    patch : the skin and what is known of it.
    recipe : its scan section is used.
    scan_to_patch : 4x4, scan coordinates in mm to the patch's own.
    landmarks : name -> (x, y, z) in scan coordinates; they replace the patch's own of the same name.

    Raises
    ------
    LandmarkMissing : a landmark that the frame needs is missing, unknown or off the skin.
    NotAFace : almost nothing of the patch lies where the face should be.
    """
    yield Step(0.3, "Taking the landmarks of the patch")
    known = {
        name: Landmark(np.asarray(point, dtype=np.float64), float(patch.confidence.get(name, 1.0)))
        for name, point in patch.landmarks.items()
    }
    given = {
        name: scan_to_patch[:3, :3] @ np.asarray(point, dtype=np.float64) + scan_to_patch[:3, 3]
        for name, point in (landmarks or {}).items()
    }
    marks = Landmarks(known, np.array([1.0, 0.0, 0.0])).with_given(given, patch.mesh)
    frame = face_frame(marks) if given else np.eye(4)  # untouched, the patch lies in its frame already
    to_face = np.diag([recipe.scan.wearer_scale] * 3 + [1.0]) @ frame
    points = {name: to_face[:3, :3] @ mark.point + to_face[:3, 3] for name, mark in marks.by_name.items()}
    yield Step(0.6, "Laying out the face surface")
    face = _surface(patch, to_face, points, recipe)
    return Prepared(
        face=face,
        landmarks=points,
        confidence={name: mark.confidence for name, mark in marks.by_name.items()},
        scan_to_design=to_face @ scan_to_patch,
        unit="mm",
        mm_per_unit=1.0,
        wearer_scale=recipe.scan.wearer_scale,
        skin=patch.skin.moved(to_face),
        remarks=(*marks.remarks, *face.remarks),
    )


def _surface(
    patch: SkinPatch, to_face: Floats, landmarks: Mapping[str, Floats], recipe: Recipe
) -> FaceSurface:
    """The face surface, smoothed by the noise of the whole scan; the collar counts as guessed."""
    chart = face_chart(face_size(landmarks))
    bound = patch.smoothing_mm if recipe.scan.smoothing_mm is None else recipe.scan.smoothing_mm
    face = face_surface(patch.mesh.moved(to_face), chart, recipe.scan.fill_mm, bound)
    furthest_mm = face.scan.furthest_mm if face.scan else np.inf
    true = np.isfinite(scan_on_chart(patch.skin.moved(to_face), chart, furthest_mm).radii())
    kept = {field.name: getattr(face, field.name) for field in fields(face)}
    kept["measured"], kept["guessed"] = true, np.asarray(face.guessed | (face.measured & ~true))
    scale = recipe.scan.wearer_scale
    return _PatchSurface(**kept | {"noise_mm": patch.noise_mm * scale}, typical_mm=patch.typical_mm * scale)

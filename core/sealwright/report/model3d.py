"""The design as a small model for the page: simplified parts, skin, and sheets that carry the maps."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..designing.design import Design
from ..designing.shape import seated_band
from ..face.surface import FaceSurface
from ..facepiece.shell import Shell, side_mesh
from ..limits import limit
from ..mesh import Floats, TriMesh
from ..physics.contact_result import CAPILLARY_KPA
from ..predict.result import Prediction
from ..render.scene import LINE, line_tube
from ..solids.boolean import Solid
from ..solids.distance import MeshDistance
from .gallery import SKIN
from .sections.contact_face import planned_face
from .sections.contact_surface import offsets_on_band
from .shown_parts import PART_COLOURS

SIMPLIFY_MM = 0.03  # parts in the page may be off by this much; maps and numbers are not
MOST_VERTICES = 65_000  # an index of two bytes must do
_STEPS = 65_534  # values and coordinates are kept in this many steps; one more marks "no value"
_STRETCHED_MM = 7.0  # under the chin, longer triangles bridge what the scan did not see
_SKIN_THINNING = 3  # every third pixel of the face surface, about 2.3 mm


@dataclass(frozen=True, eq=False)
class Piece:
    """One mesh of the model: a part, the skin, or the seal line.

    ``name`` stands beside its switch; ``colour`` is sRGB 0..1; ``shown`` says whether it is on at first.
    """

    name: str
    mesh: TriMesh
    colour: tuple[float, float, float]
    shown: bool = True


@dataclass(frozen=True, eq=False)
class Map:
    """Values on a sheet of stations (n) by rows (k).

    Attributes
    ----------
    key, title, unit : what is shown.
    grid : (n, k, 3) mm, closed along the stations.
    values : (n, k).
    low, high : ends of the colour scale.
    limits : named values marked on the scale.
    inside : seen from the face side; skin and other parts are then hidden.
    note : how to read it.
    """

    key: str
    title: str
    unit: str
    grid: Floats
    values: Floats
    low: float
    high: float
    limits: tuple[tuple[str, float], ...]
    inside: bool
    note: str


@dataclass(frozen=True, eq=False)
class Model3D:
    """Everything the page needs to draw the design."""

    pieces: tuple[Piece, ...]
    maps: tuple[Map, ...]

    def as_dict(self) -> dict[str, object]:
        """Plain data for JSON: coordinates in sixteen-bit steps, base64."""
        return {
            "pieces": [
                {"name": p.name, "colour": p.colour, "shown": p.shown, **packed(p.mesh)} for p in self.pieces
            ],
            "maps": [
                {
                    "key": m.key,
                    "title": m.title,
                    "unit": m.unit,
                    "low": m.low,
                    "high": m.high,
                    "limits": m.limits,
                    "inside": m.inside,
                    "note": m.note,
                    **packed(side_mesh(m.grid)),
                    "values": _values(m),
                }
                for m in self.maps
            ],
        }


def model_of(design: Design, prediction: Prediction | None = None) -> Model3D:
    """The model of a finished design.

    Parameters
    ----------
    design : tubes and previews have no maps.
    prediction : adds maps of pressure and of the gap under the straps.
    """
    face = design.prepared.face
    chin_mm = float(design.prepared.landmarks["menton"][2]) - 10.0
    pieces = [Piece("skin", _skin(face.thinned(_SKIN_THINNING), chin_mm), SKIN)]
    for number, (name, solid) in enumerate(design.parts.items()):
        colour = PART_COLOURS[number % len(PART_COLOURS)]
        pieces.append(Piece(name, simplified(solid), colour, number == 0))
    if design.seal_line is not None:
        pieces.append(Piece("seal line", line_tube(design.seal_line.points, 0.5, sides=6), LINE))
    return Model3D(tuple(pieces), tuple(_maps(design, prediction)))


def _skin(face: FaceSurface, lowest_mm: float) -> TriMesh:
    """The largest piece of the face surface, without long triangles that bridge what the scan did not see."""
    mesh = face.mesh
    longest = np.linalg.norm(mesh.corners - np.roll(mesh.corners, 1, axis=1), axis=2).max(axis=1)
    above = mesh.corners[..., 2].min(axis=1) > lowest_mm
    mesh = mesh.submesh(np.asarray(above | (longest < _STRETCHED_MM)))
    ends = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]]])
    joins = coo_matrix((np.ones(len(ends)), ends.T), shape=(len(mesh.vertices),) * 2)
    _, label = connected_components(joins, directed=False)
    return mesh.submesh(np.asarray(label[mesh.faces[:, 0]] == np.bincount(label).argmax()))


def simplified(solid: Solid) -> TriMesh:
    """A part with fewer triangles, coarser until its vertices can be counted with two bytes."""
    tolerance = SIMPLIFY_MM
    while True:
        mesh = replace(solid, native=solid.native.simplify(tolerance)).mesh
        if len(mesh.vertices) <= MOST_VERTICES or tolerance > 1.0:
            return mesh
        tolerance *= 2.0


def _maps(design: Design, prediction: Prediction | None) -> Iterator[Map]:
    fit, wanted_gap = design.fit, seated_band(design.recipe).stand_off_mm
    if fit is not None:
        yield Map(
            "gap",
            "Gap to the skin as designed",
            "mm",
            fit.places,
            fit.gap + wanted_gap,
            min(0.0, wanted_gap),
            max(0.1, wanted_gap + 0.1),
            (("contact", wanted_gap + 0.05),),
            True,
            "Distance of the finished body from the prepared skin, straps loose.",
        )
    yield from _offset_map(design)
    yield from _staircase_map(design)
    pressure = None if prediction is None else prediction.pressure_on_band
    gap = None if prediction is None else prediction.gap_on_band
    if prediction is not None and pressure is not None and gap is not None:
        places = prediction.band.places
        yield Map(
            "pressure",
            "Predicted pressure on the skin",
            "kPa",
            places,
            pressure,
            0.0,
            max(1.5 * CAPILLARY_KPA, float(np.quantile(pressure, 0.98))),
            (("capillary", CAPILLARY_KPA),),
            True,
            "Straps at the recipe's tension; stiffness of skin is known to about a factor of two.",
        )
        yield Map(
            "open_gap",
            "Predicted gap under the straps",
            "mm",
            places,
            gap,
            0.0,
            max(0.3, float(gap.max())),
            (("leaks", 0.2),),
            True,
            "What stays open once the mask is pulled on, for the face exactly as scanned.",
        )
    if design.shell is not None and design.wall is not None:
        yield from _wall_maps(design, design.shell, design.wall.thickness, design.wall.wanted_mm)


def _offset_map(design: Design) -> Iterator[Map]:
    found = offsets_on_band(design)
    if found is None:
        return
    places, offsets = found
    most = max(float(np.abs(offsets).max()), 0.05)
    yield Map(
        "offset",
        "Offset of the contact surface",
        "mm",
        places,
        offsets,
        -most,
        most,
        (("even", 0.0),),
        True,
        "How far the shaped surface is moved away from the skin (above 0) or towards it.",
    )


def _staircase_map(design: Design) -> Iterator[Map]:
    face = planned_face(design)
    if face is None:
        return
    words = "the foam strip covers them" if face.covered else f"of the {face.part}, before any smoothing"
    yield Map(
        "staircase",
        "Steps of the layers on the contact face",
        "mm",
        face.points,
        face.cusp_mm,
        0.0,
        face.layer_mm,
        (("limit", limit("contact_cusp").value),),
        True,
        f"Height of the steps square to the face, {words}.",
    )


def _wall_maps(design: Design, shell: Shell, thickness: Floats, wanted: float) -> Iterator[Map]:
    rows = np.flatnonzero(shell.wall)
    outer, inner = shell.outer_side[:, rows], shell.face_side[:, rows]
    yield Map(
        "thickness",
        "Thickness of the chamber wall",
        "mm",
        outer,
        thickness.reshape(outer.shape[:2]),
        0.8 * wanted,
        1.2 * wanted,
        (("least", 0.8 * wanted), ("wanted", wanted)),
        False,
        "Measured from the outer side to the chamber side, without bosses and lugs.",
    )
    away = MeshDistance(design.prepared.face.mesh).to(inner.reshape(-1, 3)).reshape(inner.shape[:2])
    clearance = design.recipe.chamber.clearance_mm
    yield Map(
        "clearance",
        "Distance of the wall from the face",
        "mm",
        inner,
        away,
        0.0,
        max(4.0 * clearance, 20.0),
        (("wanted", clearance),),
        True,
        "Towards the band it runs to zero by design; what counts is the room at nose and lips.",
    )


def packed(mesh: TriMesh) -> dict[str, object]:
    """Vertices and triangles as base64 of little-endian unsigned sixteen-bit numbers, with their frame."""
    low = mesh.bounds[0]
    step = float(max(mesh.extents.max(), 1e-6)) / _STEPS
    whole = np.rint((mesh.vertices - low) / step)
    return {
        "origin": [round(float(c), 5) for c in low],
        "step": step,
        "vertices": _base64(whole),
        "triangles": _base64(mesh.faces),
    }


def _values(map_: Map) -> dict[str, object]:
    """Values in steps between their own ends; the last step marks what is not known."""
    flat = map_.values.ravel()
    known = np.isfinite(flat)
    low = float(flat[known].min()) if known.any() else 0.0
    step = max((float(flat[known].max()) - low) / (_STEPS - 1), 1e-12) if known.any() else 1.0
    whole = np.where(known, np.rint((np.where(known, flat, low) - low) / step), _STEPS + 1)
    return {"low": low, "step": step, "data": _base64(whole)}


def _base64(numbers: NDArray[np.generic]) -> str:
    return base64.b64encode(np.ascontiguousarray(numbers, dtype="<u2").tobytes()).decode("ascii")

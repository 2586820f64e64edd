"""A closed mesh trimmed exactly to the skin, with a contact band along the line where it meets it.

The model is first cut a little below the skin, so that what lies in the head is gone; then the band, a
conformal shell on both sides of the line, and a fillet are united with it, and all is trimmed by the skin at
once: model and band touch it with one surface.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull, cKDTree

from ..errors import BadOutline, DesignError, DoesNotFit, Where, plain_point
from ..face.chart import RadialChart
from ..face.face_solid import face_solid
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import arc_lengths
from ..facepiece.contact_band import BandSettings
from ..facepiece.shell import closed_profile
from ..mesh import Bools, Floats, TriMesh
from ..settings.fields import LEAST_POINTS
from ..solids.boolean import Solid, difference, pieces, shared_volume, solid_of, union
from ..solids.crossings import crossing_pairs
from ..solids.distance import MeshDistance
from ..solids.polygon import closed_edges, inside_edges, polygon_area
from .border import Border, Line
from .clear_of_skin import trimmed_clear
from .contact_lines import contact_lines, cut_by, even_ways, moved_off
from .edge import edge_section
from .ground import Look, skin_under
from .outline import Outline
from .settings import EdgeSettings, ShellSettings
from .shell import blank_shell

_FINE_MM = 2.0  # edges of the model when it is looked at from the skin
_NEAR_MM = 10.0  # what is nearer to the skin counts as being at it
_UNDER_MM = 1.2  # the model is first cut so far below the skin
_DEPTH = 0.5  # how deep the cutter reaches into the head, as a share of the way to its middle
_CRUMB = 0.01  # of the volume: a piece so small that a fold of skin cut off is dropped
_SHORT_MM = 12.0  # lines of contact shorter than that are folds of skin, and get no band


@dataclass(frozen=True, eq=False)
class Trimmed:
    """A trimmed model in the face frame, mm.

    Attributes
    ----------
    solid : closed, outward, one piece.
    skin : the face as the solid that it was trimmed by, at the stand-off.
    face, stand_off : as it was made.
    lines : closed lines (n, 3) along which the model itself meets the skin, the longest first.
    borders : edges of the contact band; none without one.
    told : what could not be done as asked, in sentences.
    """

    solid: Solid
    skin: Solid
    face: FaceSurface
    stand_off: StandOff
    lines: tuple[Floats, ...]
    borders: tuple[Border, ...] = ()
    told: tuple[str, ...] = ()


def ground_of(model: Solid, skin: TriMesh, look: Look) -> FaceSurface:
    """The face surface under a model.

    Parameters
    ----------
    model : in the face frame, mm.
    skin : the scan there.
    look : how; its margin must hold the band, see `band_reach`.

    Raises
    ------
    DoesNotFit : the model does not come near the skin.
    OffTheScan : it goes too far round the head.
    """
    points = model.with_short_edges(_FINE_MM).mesh.vertices
    away = MeshDistance(skin).to(points)
    near = points[away < _NEAR_MM]
    if len(near) < LEAST_POINTS:
        at = int(np.argmin(away))
        raise DoesNotFit(
            f"The model does not reach the skin: it comes as near as {away[at]:.1f} mm.",
            Where("model", point=plain_point(points[at])),
            "Move it until it reaches into the skin all round, or check frame and unit of its file.",
        )
    chart = RadialChart(np.array([0.0, 55.0, -25.0]) * look.size, float(np.radians(15.0)), 0.01, 1)
    flat = chart.place_of(near)[0]
    try:
        around = near[ConvexHull(flat).vertices]
    except ValueError:  # all in a line
        around = near
    return skin_under(skin, around, look)


def band_reach(band: BandSettings) -> float:
    """How far a band and its edge reach beyond the model at most, mm."""
    return band.width_mm + band.edge_radius_mm + band.thickness_mm


def trimmed_to_skin(face: FaceSurface, model: Solid, stand_off_mm: float) -> Trimmed:
    """A model trimmed to the skin without a band.

    Parameters
    ----------
    face : the skin, see `ground_of`.
    model : closed, in the same frame, mm.
    stand_off_mm : distance that it keeps from the skin.

    Raises
    ------
    DoesNotFit : it does not reach the skin, lies in the head altogether, or falls apart.
    """
    stand_off, near = StandOff(stand_off_mm), _places_on_skin(face, model)
    cut = _without_head(face, model, near, stand_off)
    solid, skin, stand_off = trimmed_clear(cut, face, near, stand_off)
    return Trimmed(solid, skin, face, stand_off, contact_lines(solid.mesh, skin))


def banded_to_skin(face: FaceSurface, model: Solid, band: BandSettings, fillet_mm: float) -> Trimmed:
    """A model trimmed to the skin and given a contact band along the line where it meets it.

    Parameters
    ----------
    face, model : as for `trimmed_to_skin`.
    band : width, thickness, rolled edge and stand-off.
    fillet_mm : size of the fillet between band and model; 0 for none.

    Raises
    ------
    DoesNotFit : see `trimmed_to_skin`; or there is no one line for a band.
    BadOutline, OffTheScan, Folds : the band finds no room.
    """
    plain = trimmed_to_skin(face, model, band.stand_off_mm)
    outside, inside = _outer_and_inner(face, plain.lines)
    stand_off, near = StandOff(band.stand_off_mm), _places_on_skin(face, model)
    cut = _without_head(face, model, near, stand_off)
    settings = ShellSettings(
        thickness_mm=band.thickness_mm,
        stand_off_mm=max(band.stand_off_mm, 0.0),
        edge=EdgeSettings(band.edge_radius_mm, band.edge_roll_deg),
    )
    edge = edge_section(band.thickness_mm, settings.edge)
    out = band.width_mm - band.inner_mm + edge.width_mm
    lines = [Line(_moved(face, outside, out, "contact band"), edge, False)]
    for number, line in enumerate(inside, start=1):
        lines.append(
            Line(_moved(face, line, band.inner_mm + edge.width_mm, f"inner edge {number}"), edge, True)
        )
    blank = blank_shell(face, lines, settings, StandOff(settings.stand_off_mm))
    fillet, told = _fillet(face, cut, outside, band.thickness_mm, fillet_mm)
    whole = union("trimmed", cut, blank.solid, *fillet)
    places = np.vstack([near, blank.near])
    solid, skin, stand_off = trimmed_clear(whole, face, places, stand_off)
    return Trimmed(solid, skin, face, stand_off, plain.lines, blank.borders, told)


def contact_band(made: Trimmed, band: BandSettings) -> Bools:
    """Triangles (m,) of a banded model on its contact band: beside the model, and a share of it under it.

    Nothing of them may be cut away; a model without a band has none.
    """
    mesh = made.solid.mesh
    on = cut_by(mesh, made.skin)
    if not made.borders or not made.lines:
        return np.zeros(len(on), dtype=np.bool_)
    places = mesh.corners[on].mean(axis=1)
    pq = made.face.chart.place_of(places)[0]
    own = np.zeros(len(places), dtype=np.bool_)
    for line in made.lines:  # the outer one, then those round hollows
        own ^= inside_edges(pq, closed_edges(made.face.chart.place_of(line)[0]))
    near = cKDTree(np.vstack(made.lines)).query(places)[0] <= band.inner_mm
    on[on] = near | ~own
    return on


def _places_on_skin(face: FaceSurface, model: Solid) -> Floats:
    """Skin places (k, 3) under a model.

    Raises
    ------
    DoesNotFit : it lies beside the skin altogether.
    """
    points = model.with_short_edges(_FINE_MM).mesh.vertices
    pq, _ = face.chart.place_of(points)
    known = face.is_known(pq)
    if not known.any() or not (face.height_of(points[known]) < 0.0).any():
        raise DoesNotFit(
            "The model does not reach into the skin, so there is nothing to trim.",
            Where(
                "model",
                point=plain_point(points[int(np.argmin(np.where(known, face.height_of(points), np.inf)))]),
            ),
            "Move it until it reaches into the skin all round.",
        )
    return face.skin_at(pq[known])


def _without_head(face: FaceSurface, model: Solid, near: Floats, stand_off: StandOff) -> Solid:
    """The one piece of a model outside of the head, cut a little below the skin.

    Raises
    ------
    DoesNotFit : nothing, or several pieces, are outside.
    """
    below = StandOff(stand_off.base_mm - _UNDER_MM)
    cutter = face_solid(face, near, below, _DEPTH, filled=True)
    swallowed = shared_volume(model, cutter) > (1.0 - 1e-9) * model.volume
    left = [] if swallowed else pieces(difference("model", model, cutter))
    outside = [piece for piece in left if _is_outside(face, piece)]
    if not outside:
        raise DoesNotFit(
            "The model lies in the head altogether.",
            Where("model", point=plain_point(model.mesh.vertices[0])),
            "Move it out until the part that is wanted stands before the face.",
        )
    large = [piece for piece in outside if piece.volume > _CRUMB * outside[0].volume]
    if len(large) > 1:
        raise DoesNotFit(
            f"The skin cuts the model into {len(large)} pieces.",
            Where("model", point=plain_point(large[1].mesh.vertices[0])),
            "Join them outside of the skin, or move the model so that one piece is left.",
        )
    return outside[0]


def _is_outside(face: FaceSurface, piece: Solid) -> bool:
    """Whether a piece stands before the skin; what is left below the cutter lies in the head."""
    points = piece.mesh.vertices
    return bool(face.height_of(points).max() > 0.0 and face.height_of(points).mean() > -_NEAR_MM)


def _outer_and_inner(face: FaceSurface, lines: Sequence[Floats]) -> tuple[Floats, list[Floats]]:
    """The line round the model's contact, and those round hollows in it.

    Raises
    ------
    DoesNotFit : there is no line, or the model stands on the skin in several places.
    """
    long = [line for line in lines if arc_lengths(line)[-1] > _SHORT_MM]
    turning = [polygon_area(face.chart.place_of(line)[0]) for line in long]
    outside = [line for line, turn in zip(long, turning, strict=True) if turn > 0.0]
    if len(outside) != 1:
        at = plain_point(outside[1][0]) if len(outside) > 1 else None
        raise DoesNotFit(
            f"The model meets the skin along {len(outside)} lines; a band needs one line round all of it.",
            Where("model", point=at, key="recipe.trim.band"),
            "Move it further into the skin, or trim it without a band.",
        )
    return outside[0], [line for line, turn in zip(long, turning, strict=True) if turn < 0.0]


def _moved(face: FaceSurface, line: Floats, distance_mm: float, role: str) -> Outline:
    """A line of contact moved along the skin away from the model, as an outline."""
    found = moved_off(face, line, distance_mm)
    if found is None:
        raise BadOutline(
            f"There is no room for the {role}: {distance_mm:.0f} mm beside the model.",
            Where(role, point=plain_point(line[0]), key="recipe.band.width_mm"),
            "Choose a narrower band, another share inside, or trim the model without a band.",
        )
    return Outline(role, found)


def _fillet(
    face: FaceSurface, model: Solid, line: Floats, height_mm: float, size_mm: float
) -> tuple[list[Solid], tuple[str, ...]]:
    """The fillet along a line of contact, none where it would cross itself; and what is to be said of it."""
    size = size_mm
    while size >= 1.0:
        mesh = _fillet_mesh(face, model, line, height_mm, size)
        if mesh.volume > 0.0 and len(crossing_pairs(mesh)) == 0:
            try:
                return [solid_of(mesh, "fillet")], ()
            except DesignError:
                pass
        size *= 0.6
    told = "There was no room for a fillet between band and model." if size_mm > 0.0 else ""
    return [], ((told,) if told else ())


def _fillet_mesh(face: FaceSurface, model: Solid, line: Floats, height_mm: float, size_mm: float) -> TriMesh:
    """A closed strip along the line: tangent to band and model, and sunk into both."""
    points, out, normal = even_ways(face, line)
    to_model = MeshDistance(model.mesh)
    top = points + height_mm * normal
    corner = to_model.closest(top)[2]
    corner = corner + ((top - corner) * normal).sum(axis=1, keepdims=True) * normal
    upper, lower = to_model.closest(corner + size_mm * normal)[2], corner + size_mm * out
    share = np.linspace(0.0, 1.0, 9)[None, :, None]
    bow = (
        (1 - share) ** 2 * lower[:, None]
        + 2 * share * (1 - share) * corner[:, None]
        + share**2 * upper[:, None]
    )
    sunk = 0.6 * height_mm
    buried = [upper - 1.0 * out, corner - sunk * normal - 1.5 * out, lower - sunk * normal]
    return closed_profile(np.concatenate([bow, np.stack(buried, axis=1)], axis=1))

"""Measurements of a shape of the maker's own on the finished mesh: contact with the skin, and thickness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ..face.scanned import scanned_skin
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import arc_lengths
from ..limits import limit
from ..mesh import Bools, Floats, TriMesh, at_all_corners
from ..own_shapes.border import Border
from ..own_shapes.contact_lines import cut_by
from ..own_shapes.shell import ConformalShell
from ..own_shapes.trim import Trimmed
from ..solids.boolean import Solid
from ..solids.distance import MeshDistance
from .fit import EntryCheck, check_entry

_ON_MM = 1e-4  # corners of a trimmed mesh lie on what trimmed it within far less
_EDGE = 1.5  # thicknesses from where the edge leaves the skin; nearer, the way back ends on the edge


@dataclass(frozen=True, eq=False)
class Skin:
    """What a shape lies on: the face, the solid that trimmed the shape, and the distance that is kept."""

    face: FaceSurface
    solid: Solid
    stand_off: StandOff


@dataclass(frozen=True, kw_only=True)
class Thickness:
    """Nearest distances between both sides away from the edges, mm; and the share of them near the wanted."""

    wanted_mm: float
    min_mm: float
    mean_mm: float
    max_mm: float
    within_10_percent_share: float


@dataclass(frozen=True, kw_only=True)
class LineFacts:
    """One line of a shape: its name, its length, how far its corners were rounded, its edge's width; mm."""

    role: str
    length_mm: float
    rounded_mm: float
    edge_width_mm: float


@dataclass(frozen=True, kw_only=True)
class FittingFacts:
    """A port or a lug on a shape, mm; the names are also keys of the report.

    ``role`` is "port 1" or "lug 1", ``place_mm`` where it stands; for the rest see `PortStand`. Of a lug only
    the wall is told.
    """

    role: str
    place_mm: tuple[float, float, float]
    wall_mm: float
    bore_mm: float | None = None
    tube_mm: float | None = None
    surface_mm: float | None = None
    in_hollow_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class OwnShapeCheck:
    """What was measured.

    Attributes
    ----------
    on_skin_mm2 : area of the surface that was cut by the skin.
    touching_share : share of it within touch of the wanted distance from the scan.
    gap_max_mm : largest distance from the scan beyond the wanted one.
    entry : into the skin.
    holes : through-holes it should have.
    lines : outline and holes, or where a trimmed shape meets the skin.
    thickness, thinnest_at : of a shell, and where (3,) it is least; none for a trimmed solid.
    fittings : ports and lugs on it.
    """

    on_skin_mm2: float
    touching_share: float
    gap_max_mm: float
    entry: EntryCheck
    holes: int | None
    lines: tuple[LineFacts, ...] = ()
    thickness: Thickness | None = None
    thinnest_at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    fittings: tuple[FittingFacts, ...] = ()


def check_shell(face: FaceSurface, shell: ConformalShell) -> OwnShapeCheck:
    """Measure a conformal shell.

    Parameters
    ----------
    face : the skin it was made on.
    shell : finished.
    """
    mesh = shell.solid.mesh
    lines = tuple(_line_facts(border) for border in shell.borders)
    on = cut_by(mesh, shell.skin)
    area, share, gap = _on_skin(face, mesh, on, shell.stand_off)
    thickness, thinnest = _thickness(shell, on)
    return OwnShapeCheck(
        on_skin_mm2=area,
        touching_share=share,
        gap_max_mm=gap,
        entry=check_entry(face, mesh, shell.stand_off),
        holes=len(shell.borders) - 1,
        lines=lines,
        thickness=thickness,
        thinnest_at=thinnest,
    )


def check_trimmed(made: Trimmed) -> OwnShapeCheck:
    """Measure a model that was trimmed to the skin."""
    mesh = made.solid.mesh
    lines = [
        LineFacts(
            role=f"contact {number}",
            length_mm=float(arc_lengths(line)[-1]),
            rounded_mm=0.0,
            edge_width_mm=0.0,
        )
        for number, line in enumerate(made.lines, start=1)
    ]
    area, share, gap = _on_skin(made.face, mesh, cut_by(mesh, made.skin), made.stand_off)
    return OwnShapeCheck(
        on_skin_mm2=area,
        touching_share=share,
        gap_max_mm=gap,
        entry=check_entry(made.face, mesh, made.stand_off),
        holes=None,
        lines=(*lines, *(_line_facts(border) for border in made.borders)),
    )


def check_fitted(
    check: OwnShapeCheck, skin: Skin, mesh: TriMesh, fittings: Sequence[FittingFacts], cuts: int
) -> OwnShapeCheck:
    """The check of a shape that was given fittings: contact and entry are measured again.

    Parameters
    ----------
    check : of the shape before.
    skin : what it lies on.
    mesh : the shape with them.
    fittings : ports and lugs; each opens one way through.
    cuts : how many cutters were cut out, which may open any number.
    """
    area, share, gap = _on_skin(skin.face, mesh, cut_by(mesh, skin.solid), skin.stand_off)
    return replace(
        check,
        on_skin_mm2=area,
        touching_share=share,
        gap_max_mm=gap,
        entry=check_entry(skin.face, mesh, skin.stand_off),
        holes=None if check.holes is None or cuts else check.holes + len(fittings),
        fittings=tuple(fittings),
    )


def _line_facts(border: Border) -> LineFacts:
    return LineFacts(
        role=border.line.outline.role,
        length_mm=border.outermost.spacing_mm * len(border.outermost.points),
        rounded_mm=border.moved_mm,
        edge_width_mm=border.line.section.width_mm,
    )


def _on_skin(face: FaceSurface, mesh: TriMesh, on: Bools, stand_off: StandOff) -> tuple[float, float, float]:
    """Area mm2 of some triangles, the share of it at the wanted distance from the scan, the largest gap."""
    if not on.any():
        return 0.0, 0.0, 0.0
    places, areas = mesh.corners[on].mean(axis=1), mesh.face_areas[on]
    gap = MeshDistance(scanned_skin(face, places)).to(places) - stand_off.base_mm
    touching = np.abs(gap) <= limit("touch").value + face.smoothing.bound_mm
    return float(areas.sum()), float(areas[touching].sum() / areas.sum()), max(float(gap.max()), 0.0)


def _thickness(shell: ConformalShell, on: Bools) -> tuple[Thickness, tuple[float, float, float]]:
    """From the outer side to the nearest inner place, and back from there; and where it is least."""
    wanted, mesh = shell.thickness_mm, shell.solid.mesh
    outwards, _, foot = MeshDistance(mesh.submesh(on)).closest(shell.outer)
    ends = cKDTree(np.vstack([border.leaves for border in shell.borders]))
    away = ends.query(foot, distance_upper_bound=_EDGE * wanted)[0] == np.inf
    outside = at_all_corners(cKDTree(shell.outer).query(mesh.vertices)[0] < _ON_MM, mesh.faces)
    inwards = np.where(away, MeshDistance(mesh.submesh(outside)).to(foot), wanted)
    found: Floats = np.concatenate([outwards, inwards])
    least = shell.outer[int(np.argmin(found)) % len(outwards)]
    even = np.abs(found - wanted) <= limit("wall_deviation_share").value * wanted
    facts = Thickness(
        wanted_mm=wanted,
        min_mm=float(found.min()),
        mean_mm=float(found.mean()),
        max_mm=float(found.max()),
        within_10_percent_share=float(even.mean()),
    )
    return facts, (float(least[0]), float(least[1]), float(least[2]))

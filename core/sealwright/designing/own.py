"""Designs of shapes of the maker's own: a shell over an outline, a model trimmed to the skin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..checks.own_shape import OwnShapeCheck, Skin, check_fitted, check_shell, check_trimmed
from ..errors import Folds, Remark, Where, plain_point
from ..face.surface import FaceSurface
from ..limits import limit
from ..mesh import Floats, TriMesh
from ..own_shapes.edge import edge_section
from ..own_shapes.ground import Look, skin_under
from ..own_shapes.modelled import modelled_solid
from ..own_shapes.openings import landmark_holes, strap_slots
from ..own_shapes.outline import Outline, curve_on
from ..own_shapes.outline_file import DrawnLines
from ..own_shapes.settings import ShellSettings
from ..own_shapes.shell import ConformalShell, conformal_shell
from ..own_shapes.trim import band_reach, banded_to_skin, contact_band, ground_of, trimmed_to_skin
from ..progress import Job, Step
from ..recipe import Recipe
from ..solids.boolean import Solid
from .design import Design
from .own_fittings import Ground, fitted_shape
from .prepared import Prepared
from .shape import seated_band

_ROUND_MM = 10.0  # skin round a trimmed model and its band
_TOLD_MM = 1.0  # a corner rounded, or a fold filled, by less is not worth a word
_BROKEN = 0.8  # of the wanted thickness; thinner anywhere, the shell is refused


def shell_design(
    prepared: Prepared, recipe: Recipe, drawn: DrawnLines, cutters: Sequence[TriMesh] = ()
) -> Job[Design]:
    """Build and measure a shell, as a job of steps.

    Parameters
    ----------
    prepared : the wearer.
    recipe : its sections shell and fittings are used.
    drawn : outline and holes in scan coordinates, in the unit of the scan.
    cutters : closed meshes that are cut out of it, in the face frame, mm.

    Raises
    ------
    DesignError : see `conformal_shell` and `fitted_shape`; LandmarkMissing for an opening that lies by
        landmarks.
    """
    cuts = cutter_solids(cutters)
    settings = recipe.shell
    yield Step(0.0, "Laying out the skin under the outline")
    outline, holes = _in_face_frame(prepared, drawn, settings)
    face = skin_under(prepared.skin, outline.points, _look(prepared, recipe))
    yield Step(0.2, "Building the shell")
    holes += landmark_holes(face, prepared.landmarks, settings.holes)
    if settings.slots:
        width = edge_section(settings.thickness_mm, settings.edge).width_mm
        holes += strap_slots(
            face, curve_on(face, outline, False, settings.smoothing_mm), width, settings.slots
        )
    shell = conformal_shell(face, outline, holes, settings)
    yield Step(0.6, "Measuring the shell")
    check = check_shell(face, shell)
    _require_thickness(shell, check)
    told = _remarks(face, shell, check)
    skin = Skin(face, shell.skin, shell.stand_off)
    none = np.zeros(len(shell.solid.mesh.faces), dtype=np.bool_)
    ground = Ground(solid=shell.solid.named("shell"), skin=skin, kept=none)
    return (yield from _with_fittings(_Plain(prepared, recipe, check, told), ground, cuts))


def trim_design(
    prepared: Prepared, recipe: Recipe, model: TriMesh, cutters: Sequence[TriMesh] = ()
) -> Job[Design]:
    """Trim and measure a model, as a job of steps.

    Parameters
    ----------
    prepared : the wearer.
    recipe : its sections trim, band, cushion and fittings are used.
    model : closed, in the face frame, mm; see `Prepared.scan_to_design` for the way there.
    cutters : closed meshes that are cut out of it, likewise.

    Raises
    ------
    BadSolid : the model is no closed solid; DesignError : see `trimmed_to_skin`, `banded_to_skin` and
        `fitted_shape`.
    """
    yield Step(0.0, "Looking at the model")
    found, cuts = modelled_solid(model), cutter_solids(cutters)
    band = seated_band(recipe)
    look = replace(_look(prepared, recipe), margin_mm=_ROUND_MM + band_reach(band))
    face = ground_of(found.solid, prepared.skin, look)
    yield Step(0.2, "Trimming the model by the skin")
    if recipe.trim.band:
        made = banded_to_skin(face, found.solid, band, recipe.trim.fillet_mm)
    else:
        made = trimmed_to_skin(face, found.solid, band.stand_off_mm)
    yield Step(0.6, "Measuring the model")
    check = check_trimmed(made)
    told = [Remark("warning", text, Where("model")) for text in (*found.mended, *made.told)]
    skin = Skin(face, made.skin, made.stand_off)
    ground = Ground(solid=made.solid.named("trimmed"), skin=skin, kept=contact_band(made, band))
    return (yield from _with_fittings(_Plain(prepared, recipe, check, told), ground, cuts))


def cutter_solids(cutters: Sequence[TriMesh]) -> list[Solid]:
    """The solids of the maker's cutters.

    Raises
    ------
    BadSolid : one is open, crosses itself or is in several pieces.
    """
    return [modelled_solid(one, f"cutter {n}").solid for n, one in enumerate(cutters, start=1)]


@dataclass(frozen=True, eq=False)
class _Plain:
    """A shape before its fittings: of whom, by what, as measured, and what is to be said of it."""

    prepared: Prepared
    recipe: Recipe
    check: OwnShapeCheck
    told: Sequence[Remark]


def _with_fittings(plain: _Plain, ground: Ground, cutters: Sequence[Solid]) -> Job[Design]:
    """The design of a shape with its fittings and cuts."""
    yield Step(0.8, "Standing ports and lugs")
    found = fitted_shape(plain.prepared, plain.recipe, ground, cutters)
    check = plain.check
    if found.facts or cutters:
        yield Step(0.9, f"Measuring the {found.solid.role} again")
        check = check_fitted(check, ground.skin, found.solid.mesh, found.facts, len(cutters))
    return Design(
        recipe=plain.recipe,
        prepared=plain.prepared,
        parts={found.solid.role: found.solid, **found.parts},
        ports=tuple(port.placed for port in found.ports),
        straps=tuple(lug.point for lug in found.lugs),
        webbing=tuple(lug.parts.webbing for lug in found.lugs),
        lug=found.lugs[0].parts if found.lugs else None,
        holders=tuple(holder for holder in found.holders if holder is not None),
        entry=check.entry,
        own=check,
        remarks=(*plain.prepared.remarks, *plain.told, *found.told),
        print_up=found.print_up,
    )


def _look(prepared: Prepared, recipe: Recipe) -> Look:
    """How the skin is laid out, smoothed as on the face surface."""
    return Look(prepared.size, recipe.scan.fill_mm, prepared.face.smoothing.bound_mm)


def _in_face_frame(
    prepared: Prepared, drawn: DrawnLines, settings: ShellSettings
) -> tuple[Outline, list[Outline]]:
    to_face, smooth = prepared.scan_to_design, settings.line == "smooth"

    def moved(points: Floats) -> Floats:
        """Scan coordinates as millimetres of the face frame."""
        return np.asarray(points @ to_face[:3, :3].T + to_face[:3, 3])

    holes = [Outline(f"hole {n}", moved(hole), smooth) for n, hole in enumerate(drawn.holes, start=1)]
    return Outline("outline", moved(drawn.outline), smooth), holes


def _require_thickness(shell: ConformalShell, check: OwnShapeCheck) -> None:
    """Refuse a shell that is much too thin somewhere: the skin bends there as no sheet of rays can follow.

    Raises
    ------
    Folds : names the thinnest place.
    """
    found = check.thickness
    if found is None or found.min_mm >= _BROKEN * found.wanted_mm:
        return
    raise Folds(
        f"The shell would be {found.min_mm:.2f} mm thick instead of {found.wanted_mm:g} mm: the skin turns "
        "back under itself there.",
        Where("shell", point=check.thinnest_at),
        "Draw the outline round that place, or take a thinner shell.",
    )


def _remarks(face: FaceSurface, shell: ConformalShell, check: OwnShapeCheck) -> Sequence[Remark]:
    """What rounding, bridging and bending did to the shell."""
    told = []
    for border in shell.borders:
        if border.moved_mm > _TOLD_MM:
            role = border.line.outline.role
            text = f"Corners of the {role} were rounded, by {border.moved_mm:.1f} mm at most, for its edge."
            told.append(Remark("note", text, Where(role, point=plain_point(border.outermost.points[0]))))
    if shell.folded_mm > _TOLD_MM:
        text = f"The shell fills folds of the skin and is thicker there, by {shell.folded_mm:.1f} mm at most."
        told.append(Remark("note", text, Where("shell", point=plain_point(shell.folded_at))))
    found, share = check.thickness, limit("wall_deviation_share").value
    if found is not None and max(found.max_mm - found.wanted_mm, found.wanted_mm - found.min_mm) > (
        share * found.wanted_mm
    ):
        text = (
            f"The shell is {found.min_mm:.2f} to {found.max_mm:.2f} mm thick; "
            f"{100.0 * found.within_10_percent_share:.1f} % of it keeps within {100.0 * share:.0f} %."
        )
        told.append(Remark("warning", text, Where("shell", point=check.thinnest_at)))
    return told

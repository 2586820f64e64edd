"""A design whose finished parts were changed by hand, or left out: examined like any other."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from ..checks.fit import check_entry, check_fit
from ..cushion.settings import cushion_of
from ..errors import Remark, Where
from ..face.stand_off import StandOff
from ..mesh import TriMesh
from ..solids.boolean import solid_of
from ..solids.soundness import require_sound
from .design import Design


def with_edited(design: Design, edited: Mapping[str, TriMesh]) -> Design:
    """The design with some of its parts as a hand has changed them; contact and entry are measured anew.

    Parameters
    ----------
    edited : part -> its mesh in the face frame, mm.

    Raises
    ------
    BadSolid : a part is not one sound piece any more.
    """
    if not edited:
        return design
    for name, mesh in edited.items():
        require_sound(mesh, name)
    solids = {name: solid_of(mesh, name) for name, mesh in edited.items()}
    made = replace(
        design,
        parts={name: solids.get(name, solid) for name, solid in design.parts.items()},
        edited=tuple(edited),
        remarks=(*design.remarks, _by_hand(tuple(edited))),
    )
    first = next(iter(design.parts))
    return _measured(made, edited[first]) if first in edited else made


def _measured(design: Design, body: TriMesh) -> Design:
    """Contact and entry of a changed body or tube."""
    face = design.prepared.face
    if design.band is None or design.seal_line is None:
        return replace(design, entry=check_entry(face, body, StandOff(design.recipe.tube.stand_off_mm)))
    soft = cushion_of(design.recipe.cushion)
    reach = soft.thickness_mm - soft.seated_mm
    fit = check_fit(face, design.seal_line, design.band, body, None, reach)
    return replace(design, fit=fit, entry=check_entry(face, body, design.band.stand_off))


def without_parts(design: Design, names: Collection[str]) -> Design:
    """The design without some of its parts, which the maker leaves out of the folder."""
    if not names:
        return design
    kept = {name: solid for name, solid in design.parts.items() if name not in names}
    text = f"Left out by the maker: {', '.join(sorted(names))}."
    return replace(design, parts=kept, remarks=(*design.remarks, Remark("warning", text, Where("parts"))))


def _by_hand(names: tuple[str, ...]) -> Remark:
    text = (
        f"Changed by hand after it was built: {', '.join(names)}. Soundness, contact, entry and print are of "
        "the changed shape; wall, clearance, chamber and prediction are of the shape as it was built."
    )
    return Remark("warning", text, Where(names[0]))

"""What the maker is told of a searched seal line, and of skin that is missing for any."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..errors import BandFolds, DesignError, OffTheScan, Remark, SealLineCrossing, Where, plain_point
from ..face.surface import FaceSurface
from ..mesh import Bools, Floats
from .band_room import Reach, lacking_mm, room_along, trusted_skin
from .seal_line import SealLine
from .searched_line import Searched
from .sectors import SECTORS, sectors_of
from .skin_lattice import SkinLattice

NO_SKIN = "the scan has too little skin"
TOO_NEAR = "it comes too near to lips, nostrils or eyes"
TOO_TIGHT = "the scan has too little skin beside lips, nostrils or eyes"
WOULD_FOLD = "the band would fold"

_MOVED_MM = 2.0  # a line nearer to the proposal than this counts as not moved
_SOME_MM = 0.1
_TOWARDS = 0.35  # share of a direction from which on it is named: 20 degrees
_SPOTS = 100


@dataclass(frozen=True, eq=False)
class Usual:
    """The line by distances, None where it crosses itself, and what is against it, "" for nothing."""

    line: SealLine | None
    against: str


def how_searched(moved_mm: Floats, why: str) -> Remark:
    """Says how far (t,) a searched line moved from the usual one, and why it did."""
    share, most = float((moved_mm > _MOVED_MM).mean()), float(moved_mm.max())
    text = (
        f"The seal line was searched on the scanned skin, because on the usual one {why}: "
        f"{100.0 * share:.0f} % of it moved by more than {_MOVED_MM:.0f} mm, at most {most:.0f} mm. "
        "Look at its way."
    )
    return Remark("warning", text, Where("seal line", key="recipe.seal_line"))


def narrower(line: SealLine, landmarks: Mapping[str, Floats], reach: Reach, why: str) -> Remark:
    """Says where the band is narrower than asked along a line, by how much, and why."""
    room = np.ones((len(line.points), 2)) if line.room is None else line.room
    less = ((1.0 - room) * reach.both).sum(axis=1)
    some = less > _SOME_MM
    text = (
        f"The band is up to {less.max():.1f} mm narrower along {100.0 * some.mean():.0f} % of the seal line "
        f"({sector_names(line.points, landmarks, some)}), because else {why}. It marks more there and bears "
        "less movement."
    )
    return Remark(
        "warning",
        text,
        Where(
            "contact band", point=plain_point(line.points[int(np.argmax(less))]), key="recipe.band.width_mm"
        ),
    )


def sector_names(points: Floats, landmarks: Mapping[str, Floats], stations: Bools) -> str:
    """The sectors of a line (n, 3) that some of its stations (n,) lie in, in words."""
    names = [SECTORS[number] for number in np.unique(sectors_of(points, landmarks)[stations])]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def no_line(lattice: SkinLattice, least: Searched | None, usual: Usual) -> DesignError:
    """The refusal where there is no line: it names the skin that is missing, and from where to scan it.

    Parameters
    ----------
    lattice : the skin that was searched.
    least : the line that lacked least; None for none.
    usual : the line by distances.
    """
    if least is None:
        what = "No closed line round the mouth was found."
        return SealLineCrossing(what, "seal line", "Check the landmarks of nose, mouth and chin.")
    points = least.line.points
    bare = least.lacking if least.lacking.any() else least.folds
    if least.near is not None and not least.lacking.any():
        if usual.against == TOO_NEAR:
            return least.near.refusal(points)
        bare = np.arange(len(points)) == least.near.station
    missing = bare & lacking_skin(lattice.face, least.line, lattice.reach)
    if least.lacking.any() or missing.any():
        return _missing(lattice.face, lattice.landmarks, lattice.reach, points, bare)
    for other in (usual, Usual(least.line, WOULD_FOLD)):
        found = missing_on_usual(lattice.face, lattice.landmarks, lattice.reach, other)
        if found is not None:
            return found
    return _no_room(lattice, least, bare)


def missing_on_usual(
    face: FaceSurface, landmarks: Mapping[str, Floats], reach: Reach, usual: Usual
) -> OffTheScan | None:
    """The refusal that names what the usual line lacks, where no other holds; None where it lacks none."""
    if usual.line is None:
        return None
    bare = lacking_skin(face, usual.line, reach.least)
    if usual.against == NO_SKIN and not bare.any():
        bare = lacking_skin(face, usual.line, reach)
    return _missing(face, landmarks, reach, usual.line.points, bare) if bare.any() else None


def lacking_skin(face: FaceSurface, line: SealLine, reach: Reach) -> Bools:
    """Stations (n,) at which a band along a line has not all the scanned skin that it reaches for."""
    room = room_along(face, line, reach, trusted_skin(face))
    return np.asarray(lacking_mm(room, reach.both).any(axis=1))


def _missing(
    face: FaceSurface, landmarks: Mapping[str, Floats], reach: Reach, points: Floats, bare: Bools
) -> OffTheScan:
    """The refusal that names the skin missing at some stations (n,) of a line (n, 3)."""
    where = np.flatnonzero(bare)
    lacking = points[where]
    middle = lacking[int(np.argmin(np.linalg.norm(lacking - lacking.mean(axis=0), axis=1)))]
    names, width = sector_names(points, landmarks, bare), reach.least.both.sum()
    where_it_is = Where(
        "seal line",
        point=_plain(middle),
        indices=tuple(where[:_SPOTS].tolist()),
        spots=tuple(map(_plain, lacking)),
        view=_plain(view_of_skin(face, lacking)),
    )
    return OffTheScan(
        f"No smooth seal line finds skin for a band {width:.3g} mm wide: the scan lacks skin at the {names}.",
        where_it_is,
        f"Rescan with the {names} in view, {view_in_words(face, lacking)}.",
    )


def _no_room(lattice: SkinLattice, least: Searched, bare: Bools) -> DesignError:
    """The refusal where skin is there, but no room on it for a band."""
    points = least.line.points
    if least.near is not None:
        return least.near.refusal(points)
    place = points[int(np.flatnonzero(bare)[0])]
    return BandFolds(
        f"The contact band folds on every seal line: at the {sector_names(points, lattice.landmarks, bare)}.",
        Where("contact band", point=_plain(place)),
        "Choose a narrower band, or set the points of the seal line yourself.",
    )


def _plain(point: Floats) -> tuple[float, float, float]:
    return plain_point(point)


def view_of_skin(face: FaceSurface, points: Floats) -> Floats:
    """Unit direction (3,) in the face frame from which skin points (n, 3), mm, are seen most squarely."""
    normal = face.normal_at(face.chart.place_of(points)[0]).mean(axis=0)
    return np.asarray(normal / max(float(np.linalg.norm(normal)), 1e-9))


def view_in_words(face: FaceSurface, points: Floats) -> str:
    """The same in words: "from the wearer's left and from below"."""
    normal = face.normal_at(face.chart.place_of(points)[0])
    mean = view_of_skin(face, points)
    sides = (("the wearer's left", normal[:, 0].max()), ("the wearer's right", -normal[:, 0].min()))
    ways = [*sides, ("below", -mean[2]), ("above", mean[2])]
    named = [f"from {name}" for name, share in ways if share > _TOWARDS]
    return " and ".join(named) if named else "from the front"

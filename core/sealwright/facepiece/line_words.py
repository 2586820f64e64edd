"""What the maker is told of a searched seal line, and of skin that is missing for any."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..errors import DesignError, OffTheScan, Remark, SealLineCrossing, Where
from ..face.surface import FaceSurface
from ..mesh import Bools, Floats
from .band_room import Reach
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
    x, y, z = (float(c) for c in line.points[int(np.argmax(less))])
    text = (
        f"The band is up to {less.max():.1f} mm narrower along {100.0 * some.mean():.0f} % of the seal line "
        f"({sector_names(line.points, landmarks, some)}), because else {why}. It marks more there and bears "
        "less movement."
    )
    return Remark("warning", text, Where("contact band", point=(x, y, z), key="recipe.band.width_mm"))


def sector_names(points: Floats, landmarks: Mapping[str, Floats], stations: Bools) -> str:
    """The sectors of a line (n, 3) that some of its stations (n,) lie in, in words."""
    names = [SECTORS[number] for number in np.unique(sectors_of(points, landmarks)[stations])]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def no_line(lattice: SkinLattice, least: Searched | None, against: str) -> DesignError:
    """The refusal where there is no line: it names the skin that is missing, and from where to scan it.

    Parameters
    ----------
    lattice : the skin that was searched.
    least : the line that lacked least; None for none.
    against : what was against the usual line.
    """
    if least is None:
        what = "No closed line round the mouth was found."
        return SealLineCrossing(what, "seal line", "Check the landmarks of nose, mouth and chin.")
    points = least.line.points
    bare = least.lacking if least.lacking.any() else least.folds
    if least.near is not None and not least.lacking.any():
        if against == TOO_NEAR:
            return least.near.refusal(points)
        bare = np.arange(len(points)) == least.near.station
    where = np.flatnonzero(bare)
    lacking = points[where]
    middle = lacking[int(np.argmin(np.linalg.norm(lacking - lacking.mean(axis=0), axis=1)))]
    names = sector_names(points, lattice.landmarks, bare)
    view = view_in_words(lattice.face, lacking)
    width = lattice.reach.least.both.sum()
    where_it_is = Where(
        "seal line",
        point=_plain(middle),
        indices=tuple(where[:_SPOTS].tolist()),
        spots=tuple(map(_plain, lacking)),
        view=_plain(view_of_skin(lattice.face, lacking)),
    )
    return OffTheScan(
        f"No smooth seal line finds skin for a band {width:.3g} mm wide: the scan lacks skin at the {names}.",
        where_it_is,
        f"Rescan with the {names} in view, {view}.",
    )


def _plain(point: Floats) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in point)
    return (x, y, z)


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

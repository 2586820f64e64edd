"""The seal line that a design takes: the proposal by distances; where it leaves the skin, a searched one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..errors import OffTheScan, SealLineCrossing
from ..face.surface import FaceSurface
from ..limits import limit
from ..mesh import Bools, Floats
from .band_room import Reach, lacking_mm, least_share, narrowed, room_along, trusted_skin, with_room
from .contact_band import OnSkin, looked_under
from .line_features import too_near
from .line_words import NO_SKIN, TOO_NEAR, TOO_TIGHT, WOULD_FOLD, Usual, how_searched, narrower, no_line
from .seal_line import SealLine, SealLineSettings, line_through
from .seal_line_proposal import propose_control_points, seal_line
from .searched_line import STATIONS, Searched, Wish, searched_line
from .skin_lattice import SkinLattice, lattice_round

_BEHIND_SHARE = 0.01  # of the band on what lies behind the skin; masks on good scans have up to 0.6 %
_OFF_FOLD_MM = 5.0
_NARROW_MM = 12.0  # the band is narrow so far round a fold

Places = tuple[tuple[float, float, float], ...]


@dataclass(frozen=True)
class LineAsked:
    """What the seal line is asked for.

    Attributes
    ----------
    settings : distances, or control points of the recipe.
    stations : how many.
    reach : of the band.
    avoid : places that the band is to keep off, as where it folded; the line is searched then.
    narrow : places at which the band is to be as narrow as is borne.
    """

    settings: SealLineSettings
    stations: int
    reach: Reach
    avoid: Places = ()
    narrow: Places = ()


def line_on_skin(face: FaceSurface, landmarks: Mapping[str, Floats], asked: LineAsked) -> SealLine:
    """The seal line of a face: the proposal where it holds, else the best line on trusted skin.

    Parameters
    ----------
    face : the face surface.
    landmarks : name -> (3,) mm in the face frame.
    asked : what is asked for.

    Raises
    ------
    LandmarkMissing : a landmark that the proposal needs is missing.
    OffTheScan : no line has room on the skin there is; the message names the skin that is missing.
    SealLineCrossing : the recipe's own line crosses itself or comes too near to lips, nostrils or eyes.
    """
    if asked.settings.control_points:
        return _own(face, landmarks, asked)
    proposal = usual_line(face, landmarks, asked)
    if proposal.line is not None and not proposal.against:
        line = proposal.line
    else:
        line = _best(face, landmarks, asked, proposal)
    return line if not asked.narrow else _narrowed(line, landmarks, asked)


def _own(face: FaceSurface, landmarks: Mapping[str, Floats], asked: LineAsked) -> SealLine:
    """The line through the recipe's own points."""
    line = seal_line(face, landmarks, asked.settings, asked.stations, asked.reach.inner_mm)
    near = too_near(line.points, landmarks)
    if near is not None:
        raise near.refusal(line.points)
    return with_room(face, line, asked.reach, face.known)


def usual_line(face: FaceSurface, landmarks: Mapping[str, Floats], asked: LineAsked) -> Usual:
    """The line by distances, and what is against it.

    Raises
    ------
    LandmarkMissing : a landmark that it needs is missing.
    """
    settings = asked.settings
    try:
        line = seal_line(face, landmarks, settings, asked.stations, asked.reach.inner_mm)
    except SealLineCrossing:
        return Usual(None, NO_SKIN)
    except OffTheScan:
        return Usual(_over_nothing(face, landmarks, asked), NO_SKIN)
    if too_near(line.points, landmarks) is not None:
        return Usual(line, TOO_NEAR)
    found = looked_under(face, line, asked.reach)
    on_skin = found.on.all() and 1.0 - found.trusted.mean() <= _BEHIND_SHARE
    if not (on_skin and _scanned(found)):
        return Usual(line, NO_SKIN)
    return Usual(line, WOULD_FOLD if asked.avoid else "")


def _over_nothing(face: FaceSurface, landmarks: Mapping[str, Floats], asked: LineAsked) -> SealLine | None:
    """The line by distances that leaves the skin, as if it went on; None where it crosses itself."""
    control, under = propose_control_points(face, landmarks, asked.settings)
    try:
        return line_through(face, control, asked.stations, asked.settings.smoothing_mm, under)
    except SealLineCrossing:
        return None


def _scanned(found: OnSkin) -> bool:
    """Whether the band stands on no more filled skin than a verdict bears."""
    return bool(1.0 - found.measured.mean() <= limit("guessed_share_untrusted").value)


def _best(face: FaceSurface, landmarks: Mapping[str, Floats], asked: LineAsked, proposal: Usual) -> SealLine:
    """The best searched line.

    Raises
    ------
    OffTheScan, SealLineCrossing : see `line_on_skin`.
    """
    least: Searched | None = None
    full = lattice_round(face, landmarks, asked.reach)
    for lattice, wish in _wishes(full, asked):
        try:
            found = searched_line(lattice, wish)
        except SealLineCrossing:
            continue
        if found.found:
            looked_at = replace(asked, stations=STATIONS)
            line = _finished(lattice, looked_at, wish, found, proposal.against)
            if _scanned(looked_under(face, line, asked.reach)):
                return _finished(lattice, asked, wish, found, proposal.against)
            filled = ~looked_under(face, found.line, lattice.reach).measured.all(axis=1)
            found = replace(found, lacking=np.asarray(filled))
        if least is None or found.lacks < least.lacks:
            least = found
    raise no_line(full, least, proposal)


def _wishes(full: SkinLattice, asked: LineAsked) -> Iterator[tuple[SkinLattice, Wish]]:
    """What is searched for and where, the best first.

    Full width, then narrower where skin is missing, then narrower where lips or eyes are near too; scanned
    skin before filled skin.
    """
    slim = replace(full, reach=full.reach.least)
    starts = _starts(full, asked.settings)
    skins = [trusted_skin(full.face)]
    if full.face.guessed.any():
        skins.append(trusted_skin(full.face, guessed=True))
    for skin in skins:
        kept = skin & ~_avoided(full.face, asked)
        for lattice, narrow in ((full, False), (full, True), (slim, False)):
            for start, under in starts:
                yield lattice, Wish(start, under, asked.settings.smoothing_mm, narrow, kept)


def _starts(lattice: SkinLattice, settings: SealLineSettings) -> list[tuple[Floats, bool]]:
    """Control points of the proposal, and of the one in front of the chin where nothing else is asked."""
    face, landmarks = lattice.face, lattice.landmarks
    first = propose_control_points(face, landmarks, settings)
    if settings.chin is not None or not first[1]:
        return [first]
    return [first, propose_control_points(face, landmarks, replace(settings, chin="front"))]


def _avoided(face: FaceSurface, asked: LineAsked) -> Bools:
    """Pixels (h, w) that the band is not to stand on."""
    off = np.zeros(face.radii.shape, dtype=bool)
    for place in asked.avoid:
        off |= np.linalg.norm(face.points - np.array(place), axis=-1) < _OFF_FOLD_MM
    return off


def _finished(lattice: SkinLattice, asked: LineAsked, wish: Wish, found: Searched, why: str) -> SealLine:
    """The found line as densely as asked, with its narrower band and with what it cost."""
    face, landmarks, control = lattice.face, lattice.landmarks, found.line.control
    under = bool(control[:, 2].min() < landmarks["menton"][2])
    line = line_through(face, control, asked.stations, asked.settings.smoothing_mm, under)
    told = [how_searched(found.moved_mm, why)]
    room = room_along(face, line, asked.reach, wish.skin)
    why = NO_SKIN
    if lattice.reach != asked.reach:
        why = TOO_TIGHT
        room = np.minimum(room, lattice.clear_of_features(line.points))
    if lacking_mm(room, asked.reach.both).any():
        whole, line = line, narrowed(line, room / asked.reach.both, asked.reach)
        if looked_under(face, line, asked.reach).folded.any():
            line = narrowed(whole, np.full_like(room, least_share(asked.reach)), asked.reach)
        told.append(narrower(line, landmarks, asked.reach, why))
    return replace(line, remarks=tuple(told))


def _narrowed(line: SealLine, landmarks: Mapping[str, Floats], asked: LineAsked) -> SealLine:
    """The line with a narrower band at some places."""
    room = np.ones((len(line.points), 2)) if line.room is None else line.room.copy()
    for place in asked.narrow:
        near = np.linalg.norm(line.points - np.array(place), axis=1) < _NARROW_MM + asked.reach.both.max()
        room[near] = least_share(asked.reach)
    line = narrowed(line, room, asked.reach)
    return replace(line, remarks=(*line.remarks, narrower(line, landmarks, asked.reach, WOULD_FOLD)))

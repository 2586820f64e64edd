"""How much skin the scan has for the band on either side of a seal line, and a band that makes do with it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ..face.surface import FaceSurface
from ..limits import limit
from ..mesh import Bools, Floats
from .closed_curve import smoothed_round
from .seal_line import SealLine
from .skin_walk import walked

_SPECK_MM = 1.6  # holes of the scan up to twice as wide are no place where skin is missing
_STEP = 5.0  # change of the radius over the way across that parts two sheets of skin
_STEP_MM = 0.75  # between the places that are looked up across the band
_NOTHING_MM = 0.05  # lacking so little is lacking nothing
MARGIN_MM = 0.5  # that the band keeps from where the scan ends


@dataclass(frozen=True)
class Reach:
    """How far the band reaches from the seal line, outwards and towards the mouth, mm."""

    outer_mm: float
    inner_mm: float

    @property
    def both(self) -> Floats:
        """The two widths as an array (2,), the outer one first."""
        return np.array([self.outer_mm, self.inner_mm])

    @property
    def least(self) -> Reach:
        """The narrowest reach that is borne."""
        share = least_share(self)
        return Reach(share * self.outer_mm, share * self.inner_mm)


def trusted_skin(face: FaceSurface, guessed: bool = False) -> Bools:
    """Pixels (h, w) of the one sheet of skin round the mouth; specks in it count as skin.

    Where the outer skin is missing, a scan may show what lies behind: the inside of the mouth, the nape. A
    step of the radius parts it from the skin.

    Parameters
    ----------
    face : the face surface.
    guessed : filled skin counts too.
    """
    sheets, count = ndimage.label(face.known & (steepness(face) < _STEP))
    if count == 0:
        return np.zeros_like(face.known)
    largest = sheets == 1 + int(np.argmax(np.bincount(sheets.ravel())[1:]))
    skin = ndimage.binary_dilation(largest) & (face.known if guessed else face.known & face.measured)
    reach = max(int(round(_SPECK_MM / face.pitch_mm)), 1)
    down, right = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    disc = down**2 + right**2 <= reach**2
    closed = ndimage.binary_closing(np.pad(skin, reach), disc)[reach:-reach, reach:-reach]
    return np.asarray((closed & face.known) | skin)


def steepness(face: FaceSurface) -> Floats:
    """Steepness (h, w) of the skin as seen from the chart's centre: change of radius per length across."""
    known = np.where(face.known, face.radii, np.nan)
    down, right = np.gradient(known)
    return np.asarray(np.nan_to_num(np.hypot(down, right) / (face.chart.pitch_rad * known)))


def outwards(face: FaceSurface, line: SealLine) -> Floats:
    """Unit directions (n, 3) on the skin, away from the mouth."""
    out = np.cross(face.normal_at(line.pq), line.tangents)
    return np.asarray(out / np.linalg.norm(out, axis=1, keepdims=True))


def room_along(
    face: FaceSurface, line: SealLine, reach: Reach, skin: Bools, margin_mm: float = MARGIN_MM
) -> Floats:
    """Width (n, 2) in mm with skin under it, outwards and towards the mouth; at most the reach of the band.

    Parameters
    ----------
    face, line : the face surface and the seal line.
    reach : what is wanted.
    skin : pixels (h, w) that count as skin.
    margin_mm : that the band keeps from where the skin ends.
    """
    out = smoothed_round(outwards(face, line), line.sigma_stations)
    sides = [
        _room(face, line, sign * out, wanted + margin_mm, skin)
        for sign, wanted in zip((1.0, -1.0), reach.both, strict=True)
    ]
    return np.stack(sides, axis=1) - margin_mm


def _room(face: FaceSurface, line: SealLine, heading: Floats, reach_mm: float, skin: Bools) -> Floats:
    """How far (n,) one can walk over skin from each station, at most a reach."""
    steps = int(np.ceil(reach_mm / _STEP_MM))
    rows = walked(face, line.points, heading, reach_mm, steps)
    on = face.looked_up(skin, face.chart.place_of(rows)[0])
    unbroken = np.logical_and.accumulate(on, axis=1)
    far = reach_mm / steps * unbroken[:, 1:].sum(axis=1)
    return np.asarray(np.where(on[:, 0], far, -reach_mm))


def lacking_mm(room: Floats, wanted: Floats) -> Floats:
    """What of a wanted width (2,) is lacking (n, 2), mm; what is next to nothing counts as nothing."""
    short = wanted - room
    return np.where(short > _NOTHING_MM, short, 0.0)


def with_room(face: FaceSurface, line: SealLine, reach: Reach, skin: Bools) -> SealLine:
    """The line with the share of the band's width that has skin, where that is enough; else as it is.

    Parameters
    ----------
    face, line : the face surface and the seal line.
    reach : of the band.
    skin : pixels (h, w) that count as skin.
    """
    room = room_along(face, line, reach, skin)
    if not lacking_mm(room, reach.both).any() or lacking_mm(room, reach.least.both).any():
        return line
    return narrowed(line, room / reach.both, reach)


def narrowed(line: SealLine, share: Floats, reach: Reach) -> SealLine:
    """The line with a band of these shares (n, 2) of its reach, evened out, no less than is borne."""
    share = np.maximum(share, least_share(reach))
    return replace(line, room=evened_share(share, line.sigma_stations))


def least_share(reach: Reach) -> float:
    """Share of its width down to which a band is narrowed: what is borne however wide it was asked."""
    borne = limit("band_narrowed_mm").value / float(reach.both.sum())
    return min(limit("band_narrowed_share").value, borne)


def evened_share(share: Floats, sigma_stations: float) -> Floats:
    """Shares (n, 2) of at most 1 that change slowly along the line and are nowhere larger."""
    reach = max(int(np.ceil(2.0 * sigma_stations)), 1)
    low = ndimage.minimum_filter1d(np.minimum(share, 1.0), 2 * reach + 1, axis=0, mode="wrap")
    return np.asarray(ndimage.uniform_filter1d(low, 2 * reach + 1, axis=0, mode="wrap"))

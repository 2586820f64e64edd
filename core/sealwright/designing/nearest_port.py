"""Tilt and height of the first port at which it hangs nearest to the face and still prints and clears.

For each way the port may be aimed, four things tell how far out it must stand: a wall at the overhang limit
that clears the skin, a wall that begins above the band's fillets, the holder that must keep off the nose, and
the fill under the band's rim, which must not reach past the face that the body stands on in its print.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np

from ..face.surface import FaceSurface
from ..facepiece.clearance_field import ClearanceField
from ..facepiece.overhang import PrintDown, print_down
from ..facepiece.port_place import PortPlaceSettings, aimed, port_frame
from ..hardware.holder_layout import HolderLayout
from ..hardware.port_tube import holder_needs_mm, round_needs_mm
from ..limits import limit
from ..mesh import Floats

TILTS_DEG = tuple(2.5 * step for step in range(13))
RAISES_MM = tuple(float(r) for r in range(-24, 9, 2))
BOUNDS = (
    (0.0, 30.0, 24.0),
    (0.0, 30.0, 20.0),
    (0.0, 30.0, 16.0),
    (0.0, 25.0, 12.0),
    (5.0, 20.0, 8.0),
    (10.0, 20.0, 4.0),
    (15.0, 15.0, 0.0),
)
BEHIND_MM = 6.0  # the fillets end so far behind the plane of the port: else the wall bulges out before it
_SPARE_MM = 0.3  # the skin is looked at on every few pixels only
_BETWEEN_MM = 1.5  # points of a wall lie 2.4 mm apart, so that what lies between them is missed
_EVERY = 3
_THINNED = 8  # of the points, for a bound that tells which places are worth a closer look
_ROUNDING = 1e-9
_SHARE_OF_FRONT = 0.35  # of the way out, beside the lever: a long chamber holds more air and weighs more


@dataclass(frozen=True, eq=False)
class Around:
    """What a port has to keep clear of.

    Attributes
    ----------
    field : where the wall may be.
    inner : (n, 3) inner end of the contact band, where the clearance begins.
    ends : (n, 3) inner ends of the fillets, which the wall continues.
    skin, rim : (m, 3) points of the skin and of the band, for the holder.
    mouth : (3,) where the axis of a port without raise passes.
    """

    field: ClearanceField
    inner: Floats
    ends: Floats
    skin: Floats
    rim: Floats
    mouth: Floats

    def thinned(self, step: int) -> Around:
        """Every ``step``-th point, of which a port needs to stand no further out than of all."""
        field, (ends, skin, rim) = (
            self.field.thinned(step),
            (p[::step] for p in (self.ends, self.skin, self.rim)),
        )
        return replace(self, field=field, ends=ends, skin=skin, rim=rim)


@dataclass(frozen=True)
class Hung:
    """What hangs on a port, and its wall.

    Attributes
    ----------
    throat_mm : radius of the wall in the port.
    limit_deg : overhang limit of the wall; None when it is free.
    bend_mm : height over the flattest wall that the bend from the fillet takes.
    body_mm : how far the body's outer side stands off the points of the band.
    holder : its layout, or None.
    put_on : radius and lower end of a blind cap or of a valve's way, mm in the port frame; None without one.
    stands_mm : height in the port frame of the face that the body stands on in its print.
    """

    throat_mm: float
    limit_deg: float | None
    bend_mm: float
    body_mm: float
    holder: HolderLayout | None
    put_on: tuple[float, float] | None = None
    stands_mm: float = np.inf

    def needs_mm(self, frame: Floats, points: Floats, off: float) -> float:
        """How much further out a port must stand for what hangs on it to keep off points (n, 3), mm."""
        if self.holder is not None:
            return holder_needs_mm(frame, points, self.holder, off)
        if self.put_on is None:
            return -np.inf
        radius, low = self.put_on
        return round_needs_mm(frame, points, (radius + off + _BETWEEN_MM, low), off)


def skin_points(face: FaceSurface) -> Floats:
    """Points (m, 3) of the skin on every third pixel of the chart."""
    points = face.thinned(_EVERY).points.reshape(-1, 3)
    return np.asarray(points[np.isfinite(points).all(axis=1)])


def further_mm(frame: Floats, around: Around, hung: Hung) -> float:
    """How much further out along its axis a port must stand, mm; 0 where it may stand."""
    needs = [0.0]
    if hung.limit_deg is not None:
        down: PrintDown = print_down(frame, hung.throat_mm, hung.limit_deg)
        needs.append(around.field.lacks_room_mm(down))
        needs.append(hung.bend_mm - float(down.room_mm(around.ends).min()))
        # What fills up the room under the rim ends within the port, and not below the bed.
        thick = hung.body_mm / np.sin(down.limit_rad)
        needs.append(thick - float(down.room_mm(around.rim).min()) - hung.stands_mm)
    needs.append(BEHIND_MM + float(((around.ends - frame[:3, 3]) @ frame[:3, 2]).max()))
    needs.append(hung.needs_mm(frame, around.skin, limit("off_skin").value + _SPARE_MM))
    needs.append(hung.needs_mm(frame, around.rim, hung.body_mm + _SPARE_MM))
    return max(needs)


def ranked_places(place: PortPlaceSettings, around: Around, hung: Hung) -> list[PortPlaceSettings]:
    """Places with tilt and raise chosen where they are automatic, best first.

    The first hangs nearest of all that are tried: least lever of what hangs on the port, and a share of its
    way out. The next ones are the nearest within ever narrower bounds round the usual place, for a wall that
    folds on the steeper ones.
    """
    scores = _Scores(place, around, hung)
    ranked: list[PortPlaceSettings] = []
    for bounds in BOUNDS:
        best = scores.best([n for n, one in enumerate(scores.places) if _within(one, place, bounds)])
        if best not in ranked:
            ranked.append(best)
    return ranked


class _Scores:
    """Levers of ports at many places, worked out where a bound from below does not tell already."""

    def __init__(self, place: PortPlaceSettings, around: Around, hung: Hung) -> None:
        self._around, self._hung = around, hung
        x, y, z = (float(c) for c in around.mouth)
        self.places, self._frames = _aimed_frames((x, y, z), place)
        few = around.thinned(_THINNED)
        self._least = [self._lever(number, few) for number in range(len(self.places))]
        self._known: dict[int, float] = {}

    def _lever(self, number: int, around: Around) -> float:
        one, frame = self.places[number], self._frames[number]
        further = further_mm(frame, around, self._hung) if one.further_out else 0.0
        middle = frame[:3, 3] + (further + _middle_mm(self._hung)) * frame[:3, 2]
        return float(-middle[1]) + _SHARE_OF_FRONT * (one.front_mm + further)

    def best(self, numbers: Sequence[int]) -> PortPlaceSettings:
        """The place with the least lever; of equal ones the first."""
        least = (np.inf, -1)
        for number in sorted(numbers, key=lambda n: self._least[n]):
            if self._least[number] > least[0] + _ROUNDING:
                break
            if number not in self._known:
                self._known[number] = self._lever(number, self._around)
            least = min(least, (self._known[number], number))
        return self.places[least[1]]


@lru_cache(maxsize=8)
def _aimed_frames(
    mouth: tuple[float, float, float], place: PortPlaceSettings
) -> tuple[tuple[PortPlaceSettings, ...], tuple[Floats, ...]]:
    """Places that are tried, and the frames of ports there."""
    places = tuple(_tried(place))
    return places, tuple(port_frame(np.array(mouth), one) for one in places)


def _within(one: PortPlaceSettings, asked: PortPlaceSettings, bounds: tuple[float, float, float]) -> bool:
    """Whether what is automatic lies in the bounds: least and most tilt, most way down."""
    tilt, up = aimed(one)
    low, high, deep = bounds
    return (asked.tilt_deg is not None or low <= tilt <= high) and (asked.raise_mm is not None or up >= -deep)


def _tried(place: PortPlaceSettings) -> Iterator[PortPlaceSettings]:
    tilts = TILTS_DEG if place.tilt_deg is None else (place.tilt_deg,)
    raises = RAISES_MM if place.raise_mm is None else (place.raise_mm,)
    for tilt, up in product(tilts, raises):
        yield replace(place, tilt_deg=tilt, raise_mm=up)


def _middle_mm(hung: Hung) -> float:
    """Where on the axis the mass of holder and filter lies, from the boss on."""
    return 15.0 if hung.holder is None else hung.holder.z_out - 0.5 * hung.holder.back

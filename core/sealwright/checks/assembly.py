"""The assembly put together: what mating parts share, what play they have, and whether they go in.

Rigid parts are taken as made and must share nothing, at home and along their way in. What is soft or bends on
purpose (medium, rings, snap fingers) is taken as it is when free, and must reach into its mate as deeply as
stated and no deeper.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from ..errors import plain_point
from ..limits import limit
from ..mesh import Floats
from ..progress import run_to_end
from ..solids.boolean import Solid
from ..solids.distance import MeshDistance
from ..solids.primitives import cuboid

_SHARES = (0.08, 0.2, 0.37, 0.55, 0.78, 1.0)  # of the way out, where the parts are looked at
_NOTHING_MM3 = 1e-6  # what sums of rounding leave
_ROOM_MM = 1.0  # round what moves, when the other part is cut down to what is near


@dataclass(frozen=True, eq=False, kw_only=True)
class Way:
    """How a part goes in: along +Z of a frame, straight or as a right-handed screw.

    Attributes
    ----------
    frame : 4x4; the axis through its origin points the way out.
    travel_mm : from home until it is free.
    lead_mm : way out in one turn; 0 for a straight way.
    bends_mm : how deep its fingers or beads reach into the other part on the way, by design.
    """

    frame: Floats
    travel_mm: float
    lead_mm: float = 0.0
    bends_mm: float = 0.0

    def out(self, way_mm: float) -> Floats:
        """4x4 that moves the part from home so far out."""
        turn = 2.0 * math.pi * way_mm / self.lead_mm if self.lead_mm else 0.0
        c, s = math.cos(turn), math.sin(turn)
        local = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, way_mm], [0, 0, 0, 1.0]])
        return np.asarray(self.frame @ local @ np.linalg.inv(self.frame))


@dataclass(frozen=True, eq=False, kw_only=True)
class Mate:
    """Two parts that meet on purpose.

    Attributes
    ----------
    part, other : their names; the part is the one that moves.
    how : "screwed", "pushed in", "snapped", "pressed", "laid", "threaded through".
    solids : part and other at home.
    depth_mm : how deep the part reaches into the other at home, by design; 0 for rigid parts.
    play_mm : stated play of moving parts, of a laid one its stated gap; None where none is stated.
    play_at_mm : how far out the play is measured: flanges and lands touch at home.
    pressed_along : (3,) unit direction in which a soft part is pressed; its depth is measured along it.
    way : how it goes in; None for what is laid, or is pressed by the part that follows.
    key : dotted recipe key that moves it.
    """

    part: str
    other: str
    how: str
    solids: tuple[Solid, Solid]
    depth_mm: float = 0.0
    play_mm: float | None = None
    play_at_mm: float = 0.0
    pressed_along: Floats | None = None
    way: Way | None = None
    key: str = ""


@dataclass(frozen=True, kw_only=True)
class MateFacts:
    """What was measured of two mating parts; the names are also keys of the report.

    ``overlap_mm3`` and ``depth_mm`` hold at home, ``way_overlap_mm3`` and ``way_depth_mm`` at the worst of
    ``way_positions`` on the way out.
    """

    part: str
    other: str
    how: str
    overlap_mm3: float
    depth_mm: float
    depth_stated_mm: float
    play_mm: float | None
    play_stated_mm: float | None
    way_overlap_mm3: float | None
    way_depth_mm: float | None
    way_depth_stated_mm: float | None
    way_travel_mm: float | None
    way_positions: int

    @property
    def fault(self) -> str:
        """What is wrong: "overlap", "way", "play" or "loose"; "" where nothing is."""
        most, deep = limit("assembly_overlap").value, limit("assembly_depth").value
        if self.overlap_mm3 > most and self.depth_mm > self.depth_stated_mm + deep:
            return "overlap"
        bent = (self.way_depth_mm or 0.0) - (self.way_depth_stated_mm or 0.0)
        if (self.way_overlap_mm3 or 0.0) > most and bent > deep:
            return "way"
        if (
            self.play_mm is not None
            and self.play_mm < (self.play_stated_mm or 0.0) - limit("assembly_play").value
        ):
            return "play"
        return "loose" if self.how == "pressed" and self.depth_mm < 0.5 * self.depth_stated_mm else ""


@dataclass(frozen=True, eq=False, kw_only=True)
class MateCheck:
    """Facts of two mating parts, and where (3,) they share most or come nearest; None where nowhere."""

    facts: MateFacts
    point: tuple[float, float, float] | None
    key: str


@dataclass(frozen=True, eq=False)
class AssemblyCheck:
    """All mates of a design, and how many other pairs of parts there are, none of which meet."""

    mates: tuple[MateCheck, ...] = ()
    free_pairs: int = 0

    @property
    def faulty(self) -> tuple[MateCheck, ...]:
        """Those with a fault."""
        return tuple(mate for mate in self.mates if mate.facts.fault)


@dataclass(frozen=True)
class _Shared:
    """What two solids share."""

    volume: float = 0.0
    depth: float = 0.0
    point: tuple[float, float, float] | None = field(default=None)


def check_assembly(mates: Sequence[Mate], parts: dict[str, Solid]) -> AssemblyCheck:
    """Measure every mate, and look whether any other two parts share room; as `assembly_steps`."""
    return run_to_end(assembly_steps(mates, parts))


def assembly_steps(mates: Sequence[Mate], parts: dict[str, Solid]) -> Generator[int, None, AssemblyCheck]:
    """Measure every mate, and look whether any other two parts share room, with a step before each.

    Parameters
    ----------
    mates : see `Mate`.
    parts : all parts at home by name; mating ones are known from ``mates``.
    """
    found: list[MateCheck] = []
    for mate in mates:
        yield len(found)
        found.append(_checked(mate))
    met = {frozenset((mate.part, mate.other)) for mate in mates}
    free = 0
    for one, two in combinations(parts, 2):
        if frozenset((one, two)) in met:
            continue
        yield len(found) + free
        shared = _shared(parts[one], parts[two])
        if shared.volume > limit("assembly_overlap").value:
            mate = Mate(part=one, other=two, how="apart", solids=(parts[one], parts[two]))
            found.append(_checked(mate))
        else:
            free += 1
    return AssemblyCheck(tuple(found), free)


def _checked(mate: Mate) -> MateCheck:
    """Overlap, play and way of one mate."""
    part, whole = mate.solids
    other = _near(whole, part, mate.way)
    home, worst, way = _shared(part, other, mate.pressed_along), _Shared(), mate.way
    if way is not None:
        steps = (_shared(part.moved(way.out(share * way.travel_mm)), other) for share in _SHARES)
        worst = max(steps, key=lambda shared: (shared.depth, shared.volume))
    play = None if mate.play_mm is None else _gap(part, other, mate)
    facts = MateFacts(
        part=mate.part,
        other=mate.other,
        how=mate.how,
        overlap_mm3=home.volume,
        depth_mm=home.depth,
        depth_stated_mm=mate.depth_mm,
        play_mm=play,
        play_stated_mm=mate.play_mm,
        way_overlap_mm3=None if way is None else worst.volume,
        way_depth_mm=None if way is None else worst.depth,
        way_depth_stated_mm=None if way is None else way.bends_mm,
        way_travel_mm=None if way is None else way.travel_mm,
        way_positions=0 if way is None else len(_SHARES),
    )
    return MateCheck(facts=facts, point=worst.point if facts.fault == "way" else home.point, key=mate.key)


def _gap(part: Solid, other: Solid, mate: Mate) -> float:
    """Smallest gap where the play is measured, mm, looked for up to well beyond the stated one."""
    if mate.way is not None:
        part = part.moved(mate.way.out(mate.play_at_mm))
    return float(part.native.min_gap(other.native, 2.0 * (mate.play_mm or 0.0) + 0.5))


def _near(whole: Solid, part: Solid, way: Way | None) -> Solid:
    """What of a solid lies near a part on its way: all else takes no part, and costs."""
    boxes = [part.mesh.bounds]
    if way is not None:
        boxes.append(part.moved(way.out(way.travel_mm)).mesh.bounds)
        if way.lead_mm:  # it turns: its corners reach round the axis
            radius = float(np.linalg.norm(part.mesh.extents))
            boxes = [box + np.array([[-radius], [radius]]) for box in boxes]
    low = np.min([box[0] for box in boxes], axis=0) - _ROOM_MM
    high = np.max([box[1] for box in boxes], axis=0) + _ROOM_MM
    box = whole.mesh.bounds
    if (box[0] >= low).all() and (box[1] <= high).all():
        return whole
    near = whole.native ^ cuboid(low, high, "near").native
    return Solid(whole.role, near)


def _shared(one: Solid, two: Solid, along: Floats | None = None) -> _Shared:
    """Volume, depth and place of what two solids share.

    The depth is how far a surface of one lies inside the other at most; with a direction (3,), how far what
    they share reaches along it.
    """
    first, second = (np.array(s.native.bounding_box()).reshape(2, 3) for s in (one, two))
    if (first[0] > second[1]).any() or (second[0] > first[1]).any():
        return _Shared()
    common = Solid("shared", one.native ^ two.native)
    volume = common.volume
    if volume <= _NOTHING_MM3:
        return _Shared(max(volume, 0.0))
    places = common.mesh.vertices
    deep = np.maximum(*(MeshDistance(solid.mesh).to(places) for solid in (one, two)))
    worst = int(np.argmax(deep))
    depth = float(deep[worst] if along is None else np.ptp(places @ along))
    return _Shared(volume, depth, plain_point(places[worst]))

"""The open grid under the medium and the air channels behind it, printed grid-down without supports.

Spokes and rings carry the medium. Over every spoke stands a rib; a roof over the channels bridges from rib to
rib, and where these stand further apart than a clean bridge the ribs lean towards each other until one is
left. Towards the bore the roof rises: the channels grow as they gather the air. Spokes double in number where
the space between them would grow past the limit. All solids here are cutters in the holder's print frame: bed
at z = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats, Ints
from ..solids.boolean import Solid
from ..solids.primitives import cylinder, prism_faces, scattered
from .options import HolderSettings

_ARC_STEPS = 3
_LEAST_HALF_MM = 0.3  # a channel starts where it is at least this wide to each side
CLEAN_BRIDGE_MM = 5.0  # longest bridge that comes out clean (standards: V24a)
LEAN_RISE = 1.1  # rise over run of a leaning rib: 42 degrees from the vertical
_APART_MM = 0.03  # ribs of neighbouring tiers differ by so much: faces in one plane round to slivers
_LEAST_CONE_MM = 8.0  # length of the cone round the bore at least
_LEVEL_MM = 2.0  # of the roof beside a change
_EDGE_RISE = 0.2  # share of the rise where that cone ends
_LEAST_LEAN_MM = 0.02  # keeps the corners of a channel apart where it does not lean


@dataclass(frozen=True)
class Tier:
    """A ring of the grid with one number of spokes, from one radius to another, mm."""

    spokes: int
    inner_mm: float
    outer_mm: float


@dataclass(frozen=True)
class Roof:
    """The underside of the roof over the channels: a cone round the bore, a level ring, a flatter cone.

    Attributes
    ----------
    radii_mm : where the first cone begins and ends, where the second begins and ends, growing.
    heights_mm : over the bed there.
    """

    radii_mm: tuple[float, float, float, float]
    heights_mm: tuple[float, float, float, float]

    @property
    def high_mm(self) -> float:
        """Height at the bore."""
        return self.heights_mm[0]

    @property
    def low_mm(self) -> float:
        """Height at the channels' ends."""
        return self.heights_mm[-1]

    def at(self, radius_mm: float) -> float:
        """Height at a radius, mm."""
        return float(np.interp(radius_mm, self.radii_mm, self.heights_mm))


def roof_of(settings: HolderSettings, bore_mm: float, rings: list[Tier]) -> Roof:
    """The roof of a holder with a bore and a grid.

    It is level at the bore and where the number of ribs changes: a slope there would leave strips of a layer
    that no rib holds at one end.
    """
    reach, changes = rings[-1].outer_mm, [tier.inner_mm for tier in rings]
    start = max([bore_mm, *(one for one in changes if bore_mm < one < bore_mm + _LEAST_CONE_MM)])
    start += 2.0 * _LEVEL_MM
    beyond = [one for one in changes if one > start + _LEVEL_MM]
    edge = beyond[0] - _LEVEL_MM if beyond else 0.5 * (start + reach)
    level = max([edge + _LEVEL_MM, *(one + _LEVEL_MM for one in beyond)])
    low, rise = settings.grid_mm + settings.plenum_mm, settings.plenum_rise_mm
    middle = low + _EDGE_RISE * rise
    return Roof((start, edge, level, max(reach, level + 1.0)), (low + rise, middle, middle, low))


def tiers(reach_mm: float, opening_mm: float, bar_mm: float) -> list[Tier]:
    """Rings of the grid from the middle hole to the reach, spokes doubling outward.

    The space between spokes never exceeds the opening; the innermost ring starts at the round middle hole.
    """
    step = opening_mm + bar_mm
    first = 0.5 * step
    counts = [8 * math.ceil(2.0 * math.pi * reach_mm / step / 8.0)]
    while counts[0] % 2 == 0 and counts[0] >= 12:
        counts.insert(0, counts[0] // 2)
    # A tier ends where its spokes are as far apart as they may be.
    ends = [max(count * step / (2.0 * math.pi), first) for count in counts[:-1]]
    edges = [first, *ends, max(reach_mm, first + step)]
    rows = zip(counts, edges[:-1], edges[1:], strict=True)
    return [Tier(count, inner, outer) for count, inner, outer in rows if outer > inner]


def opening_cutter(rings: list[Tier], settings: HolderSettings) -> Solid:
    """All openings of the grid as one cutter: ring sectors between spokes and rings, and the middle hole."""
    corners = [_sectors(tier, settings) for tier in rings]
    outlines = np.concatenate(corners)
    k = outlines.shape[1]
    low = np.concatenate([outlines, np.full((*outlines.shape[:2], 1), -1.0)], axis=2)
    high = np.concatenate([outlines, np.full((*outlines.shape[:2], 1), settings.grid_mm + 0.5)], axis=2)
    return scattered(np.concatenate([low, high], axis=1), _sector_faces(k), "grid openings")


def middle_cutter(settings: HolderSettings, height_mm: float) -> Solid:
    """The round hole in the middle, from below the bed to a height."""
    return cylinder(0.5 * settings.opening_mm, -1.0, height_mm, "grid middle", 32)


def _sectors(tier: Tier, settings: HolderSettings) -> Floats:
    """Outlines (p, k, 2) of the openings of one tier; sides parallel to their spokes."""
    bar = settings.bar_mm
    rows = max(1, math.ceil((tier.outer_mm - tier.inner_mm) / (settings.opening_mm + bar) - 1e-9))
    edge = np.linspace(tier.inner_mm, tier.outer_mm, rows + 1)
    share = np.linspace(-1.0, 1.0, _ARC_STEPS + 1)
    made = []
    for low, high in zip(edge[:-1] + 0.5 * bar, edge[1:] - 0.5 * bar, strict=True):
        half = [math.pi / tier.spokes - math.asin(0.5 * bar / radius) for radius in (low, high)]
        inner = low * np.column_stack([np.cos(-share * half[0]), np.sin(-share * half[0])])
        outer = high * np.column_stack([np.cos(share * half[1]), np.sin(share * half[1])])
        made.append(np.vstack([outer, inner]))
    middle = (np.arange(tier.spokes) + 0.5) * (2.0 * math.pi / tier.spokes)
    turn = np.stack([np.cos(middle), np.sin(middle)], axis=1)
    rotation = np.stack([turn, np.stack([-turn[:, 1], turn[:, 0]], axis=1)], axis=1)  # images of x and y
    flat = np.stack(made)
    out: Floats = np.einsum("rki,sij->rskj", flat, rotation).reshape(-1, flat.shape[1], 2)
    return out


def _sector_faces(k: int) -> Ints:
    """Prism over a ring sector: the outer arc is cut in strips to the inner arc, so the caps never fold."""
    half = k // 2
    sides = prism_faces(k)[: 2 * k]
    step = np.arange(half - 1)
    a, b, c, d = step, step + 1, k - 2 - step, k - 1 - step
    top = np.vstack([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return np.vstack([sides, top[:, ::-1], top + k]).astype(np.int32)


def channel_cutters(rings: list[Tier], settings: HolderSettings, roof: Roof) -> list[Solid]:
    """The channels of each tier: the roof over upright sides that lean in where it is wide.

    Neighbouring tiers overlap by more than a bar, so that every channel opens into the one inside it.
    """
    apart = [_APART_MM * (number + 1) for number in range(len(rings))]
    return [_channels(t, settings, roof, t is rings[-1], more) for t, more in zip(rings, apart, strict=True)]


def lean_mm(half_width_mm: float) -> float:
    """How far each side of a channel leans in under its roof, mm: what a clean bridge leaves over."""
    return max(half_width_mm - 0.5 * CLEAN_BRIDGE_MM, 0.0)


def _channels(tier: Tier, settings: HolderSettings, cone: Roof, last: bool, apart_mm: float) -> Solid:
    wedge, bar = math.pi / tier.spokes, settings.bar_mm - apart_mm
    start = max(tier.inner_mm - bar - 1.0, (0.5 * bar / math.cos(wedge) + _LEAST_HALF_MM) / math.tan(wedge))
    end = tier.outer_mm + (1.0 if last else 0.0)
    floor, section = settings.grid_mm, []
    places = [start, *(radius for radius in cone.radii_mm if start + 0.1 < radius < end - 0.1), end]
    for along in places:
        half = along * math.tan(wedge) - 0.5 * bar / math.cos(wedge)
        lean = max(lean_mm(half), _LEAST_LEAN_MM)
        roof = cone.at(along)
        side = roof - LEAN_RISE * lean
        section.append(
            [
                (along, -half, floor),
                (along, half, floor),
                (along, half, side),
                (along, half - lean, roof),
                (along, lean - half, roof),
                (along, -half, side),
            ]
        )
    shape = np.array(section).reshape(-1, 3)
    middle = (np.arange(tier.spokes) + 0.5) * (2.0 * math.pi / tier.spokes)
    c, s, zero = np.cos(middle), np.sin(middle), np.zeros(tier.spokes)
    images = [[c, s, zero], [-s, c, zero], [zero, zero, zero + 1.0]]
    rotation = np.moveaxis(np.array(images), 2, 0)
    return scattered(np.einsum("ki,sij->skj", shape, rotation), prism_faces(6, len(places)), "air channels")


def lacking_height_mm(rings: list[Tier], settings: HolderSettings, roof: Roof, spare_mm: float) -> float:
    """How much higher the channels must be so that leaning ribs leave open sides, mm; 0 or less: enough."""
    lacking = []
    for tier in rings:
        wedge, last = math.pi / tier.spokes, tier.outer_mm
        half = last * math.tan(wedge) - 0.5 * settings.bar_mm / math.cos(wedge)
        lacking.append(LEAN_RISE * lean_mm(half) + spare_mm - (roof.at(last) - settings.grid_mm))
    return max(lacking)


def channel_area_mm2(tier: Tier, settings: HolderSettings, roof: Roof, radius_mm: float) -> float:
    """Free cross-section of all channels of a tier at a radius, mm2."""
    wedge = math.pi / tier.spokes
    half = max(radius_mm * math.tan(wedge) - 0.5 * settings.bar_mm / math.cos(wedge), 0.0)
    lean = lean_mm(half)
    high = roof.at(radius_mm) - settings.grid_mm
    return tier.spokes * (2.0 * half * high - LEAN_RISE * lean * lean)


def spoke_stress_mpa(settings: HolderSettings, span_mm: float, beams: int, force_n: float) -> float:
    """Bending stress in the spokes that cross the open middle under a thumb's force there.

    Crossing spokes share the force; each is a simply supported beam loaded in its middle, M = F L / 4, of the
    height of grid plus rib at the bore (textbook formulas; section modulus b h^2 / 6).
    """
    height = settings.grid_mm + settings.plenum_mm + settings.plenum_rise_mm
    return (force_n / beams) * span_mm / 4.0 / (settings.bar_mm * height**2 / 6.0)
